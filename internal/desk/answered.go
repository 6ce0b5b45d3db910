package desk

import (
	"cmp"
	"context"
	"slices"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// Answered is what stands in the hospital and is answered, and what a lead
// followed up. Who did so is told by role only.
type Answered struct {
	At        line.Minute
	Known     Known
	Policy    *audit.Policy
	Duties    []AnsweredFinding // the first to run out first
	Concerns  []AnsweredFinding
	Since     line.Minute // from when follow-ups are listed
	FollowUps []FollowedUp
}

// AnsweredFinding is a finding that a justification covers now.
type AnsweredFinding struct {
	audit.Finding
	Until   line.Minute  // when the answer runs out
	Why     string       // as typed; empty: not given, or erased
	Role    account.Role // of who recorded it; empty: nobody with an account here
	Current line.Current // zero where the finding is of the patient
	Ward    Ward
}

// FollowedUp is a lead's note on a finding.
type FollowedUp struct {
	At      line.Minute
	Rule    line.Rule
	Note    string
	Role    account.Role
	Current line.Current
	Ward    Ward
}

// Answered lists what is answered now, and the follow-ups since a moment.
func (d *Desk) Answered(ctx context.Context, who Person, since time.Duration) (*Answered, error) {
	if err := who.require(account.SeeAudit); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	l, err := d.through(ctx, h, Known{}, nil)
	if err != nil {
		return nil, err
	}
	now := d.Now()
	page := &Answered{At: now, Known: l.known, Policy: l.book.PolicyAt(now), Since: now.Add(-since)}
	var found []answeredBy
	err = d.each(ctx, l, line.Stretch{From: now, Until: now + 1}, func(_ line.Key, marks []line.Mark) error {
		a := audit.Assess(l.book, marks, now)
		for _, f := range a.Answered() {
			if j, until, ok := a.AnsweredBy(&f); ok {
				found = append(found, answeredBy{f, j, until})
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	followed, err := d.store.FollowUps(ctx, line.Stretch{From: page.Since, Until: now + 1})
	if err != nil {
		return nil, err
	}
	t, err := d.texts(ctx, found, followed)
	if err != nil {
		return nil, err
	}
	page.answered(h, t, found)
	page.followed(h, t, followed)
	return page, nil
}

// answeredBy is a finding with the mark of what answers it.
type answeredBy struct {
	audit.Finding
	by    line.Mark
	until line.Minute
}

// answerTexts are the entries and lines that marks stand for.
type answerTexts struct {
	entries map[int64]line.Entry // by the place of the version
	lines   map[line.Key]line.Current
}

// texts reads the entries of the patients concerned, each once.
func (d *Desk) texts(ctx context.Context, found []answeredBy, followed []line.Mark) (answerTexts, error) {
	t := answerTexts{entries: map[int64]line.Entry{}}
	marks := slices.Clone(followed)
	for _, f := range found {
		marks = append(marks, f.by)
	}
	var keys, subjects []line.Key
	for _, m := range marks {
		subjects, keys = append(subjects, m.Subject), append(keys, m.Line)
	}
	for _, f := range found {
		keys = append(keys, f.Line)
	}
	slices.Sort(subjects)
	slices.Sort(keys)
	for _, key := range slices.Compact(subjects) {
		p, err := d.store.PatientByKey(ctx, key)
		if err != nil {
			return t, err
		}
		records, err := d.store.History(ctx, p.ID)
		if err != nil {
			return t, err
		}
		for _, r := range records {
			t.entries[r.Seq] = r.Entry
		}
	}
	var err error
	t.lines, err = d.store.LinesByKey(ctx, slices.Compact(keys))
	return t, err
}

// of is the body a mark stands for, and the author of that version.
func (t answerTexts) of(m line.Mark) (line.Body, line.ID) {
	e := t.entries[m.Known]
	if c, ok := e.Body.(line.Correction); ok {
		return c.Replacement.Body, e.Author
	}
	return e.Body, e.Author
}

func (a *Answered) answered(h *House, t answerTexts, found []answeredBy) {
	for _, f := range found {
		body, author := t.of(f.by)
		j, _ := body.(line.Justification)
		one := AnsweredFinding{
			Finding: f.Finding, Until: f.until, Why: string(j.Why), Role: h.People[author].Role, Current: t.lines[f.Line], Ward: h.WardByKey(f.Ward),
		}
		if f.IsDuty {
			a.Duties = append(a.Duties, one)
		} else {
			a.Concerns = append(a.Concerns, one)
		}
	}
	for _, list := range [][]AnsweredFinding{a.Duties, a.Concerns} {
		slices.SortFunc(list, func(x, y AnsweredFinding) int {
			return cmp.Or(cmp.Compare(x.Until, y.Until), cmp.Compare(x.Subject, y.Subject), cmp.Compare(x.Finding.Line, y.Finding.Line), cmp.Compare(x.Rule, y.Rule))
		})
	}
}

// followed lists the follow-ups, the latest first.
func (a *Answered) followed(h *House, t answerTexts, marks []line.Mark) {
	for _, m := range slices.Backward(marks) {
		body, author := t.of(m)
		f, ok := body.(line.FollowUp)
		if !ok {
			continue
		}
		current := t.lines[m.Line]
		a.FollowUps = append(a.FollowUps, FollowedUp{
			At: m.At, Rule: f.Rule, Note: string(f.Note), Role: h.People[author].Role, Current: current, Ward: h.WardByKey(current.Ward),
		})
	}
}
