package desk

import (
	"context"
	"fmt"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

// Progress is what a record of attempts tells of learning, by the hospital's terms.
type Progress struct {
	Unit       outcomes.Unit
	Terms      audit.Learning
	Curve      outcomes.Curve
	Behaviour  outcomes.Behaviour
	Faults     []outcomes.FaultCourse
	Supervised outcomes.Supervised
	CaseMix    *outcomes.CaseMix // nil: the hospital's record is too small to compare with
	Names      outcomes.Names
}

// Progress reads a record that the person may see: their own, or one that was
// shared with them.
func (d *Desk) Progress(ctx context.Context, r *outcomes.Record, unit outcomes.Unit) (*Progress, error) {
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	p := &Progress{Unit: unit, Terms: h.Rulebook.PolicyAt(d.Now()).Learning(), Names: outcomes.Names{Ward: h.wardName, Zone: h.ZoneOf}}
	standard, err := outcomes.NewStandard(TermsOf(p.Terms))
	if err != nil {
		return nil, fmt.Errorf("learning by the policy in force: %w", err)
	}
	p.Curve, p.Behaviour = standard.Curve(r, unit), standard.Behaviour()
	p.Faults, p.Supervised = r.Faults(), r.Supervised(p.Terms.SupervisedSuccesses)
	p.CaseMix, err = d.caseMix(ctx, unit)
	return p, err
}

// caseMixOf is how far back the hospital's own attempts are looked at, and
// caseMixAge how old what was worked out from them may be.
const (
	caseMixOf  = 2 * 365 * 24 * time.Hour
	caseMixAge = 12 * time.Hour
)

// caseMix is how often attempts fail here by site, gauge and difficulty, of
// everybody together; nil where the record is too small to say.
func (d *Desk) caseMix(ctx context.Context, unit outcomes.Unit) (*outcomes.CaseMix, error) {
	now := d.Now()
	return d.mixes.get(ctx, unit, now, caseMixAge, func(ctx context.Context) (*outcomes.CaseMix, error) {
		var tried []line.Tried
		past := line.Stretch{From: now.Add(-caseMixOf), Until: now + 1}
		if err := d.store.EveryAttempt(ctx, past, func(_ line.Operator, t line.Tried) { tried = append(tried, t) }); err != nil {
			return nil, fmt.Errorf("read every attempt: %w", err)
		}
		mix, err := outcomes.FitCaseMix(tried, unit)
		switch {
		case outcomes.TooFew(err):
			return nil, nil
		case err != nil:
			return nil, fmt.Errorf("expect failures: %w", err)
		}
		return mix, nil
	})
}
