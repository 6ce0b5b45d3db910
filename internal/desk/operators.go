package desk

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"dwellbook/internal/audit"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

// TermsOf are the terms by which a policy follows learning.
func TermsOf(l audit.Learning) outcomes.Terms {
	return outcomes.Terms{
		Acceptable: l.Acceptable, Unacceptable: l.Unacceptable, Alpha: l.Alpha, Beta: l.Beta,
		LearningLimit: l.LearningLimit, WatchLimit: l.WatchLimit,
	}
}

// Learning is what the policy in force now says of learning.
func (d *Desk) Learning(ctx context.Context) (audit.Learning, error) {
	h, err := d.House(ctx)
	if err != nil {
		return audit.Learning{}, err
	}
	return h.Rulebook.PolicyAt(d.Now()).Learning(), nil
}

// Operator is whoever held cannulas, with the attempts of a period.
type Operator struct {
	ID     string // an account's, else the name as written in lower case
	Name   string
	Record *outcomes.Record
}

// Operators are all operators of a period by name, with every attempt, also
// those they have yet to agree to; not those they said were not theirs. Only the
// system may ask: on no screen does anybody see another person's record.
func (d *Desk) Operators(ctx context.Context, who Person, in line.Stretch) ([]Operator, error) {
	if !who.system {
		return nil, fault.New(fault.Forbidden, "desk.record-of-another")
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	attempts := map[line.Operator][]line.Tried{}
	err = d.store.EveryAttempt(ctx, in, func(o line.Operator, t line.Tried) {
		if t.Counts() || t.Waits() {
			attempts[o] = append(attempts[o], t)
		}
	})
	if err != nil {
		return nil, fmt.Errorf("read every attempt: %w", err)
	}
	var list []Operator
	for o, tried := range attempts {
		operator := Operator{ID: string(o.Written), Name: string(o.Written), Record: outcomes.Of(tried, 0)}
		if o.Account != "" {
			operator.ID, operator.Name = string(o.Account), h.NameOf(o.Account)
		}
		list = append(list, operator)
	}
	slices.SortFunc(list, func(a, b Operator) int { return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.ID, b.ID)) })
	return list, nil
}
