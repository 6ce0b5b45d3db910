package desk

import (
	"context"
	"fmt"
	"sync"
	"time"

	"golang.org/x/sync/singleflight"

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

// caseMixes are kept by unit: fitting takes longer than a page may.
type caseMixes struct {
	mu   sync.Mutex
	kept map[outcomes.Unit]keptMix
	work singleflight.Group
}

type keptMix struct {
	at  line.Minute
	mix *outcomes.CaseMix
}

// caseMix is how often attempts fail here by site, gauge and difficulty, of
// everybody together; nil where the record is too small to say.
func (d *Desk) caseMix(ctx context.Context, unit outcomes.Unit) (*outcomes.CaseMix, error) {
	now := d.Now()
	d.mixes.mu.Lock()
	kept, ok := d.mixes.kept[unit]
	d.mixes.mu.Unlock()
	if ok && now.Sub(kept.at) < caseMixAge {
		return kept.mix, nil
	}
	made, err, _ := d.mixes.work.Do(unit.String(), func() (any, error) { return d.fitMix(context.WithoutCancel(ctx), unit, now) })
	if err != nil {
		return nil, err
	}
	return made.(*outcomes.CaseMix), nil
}

func (d *Desk) fitMix(ctx context.Context, unit outcomes.Unit, now line.Minute) (*outcomes.CaseMix, error) {
	var tried []line.Tried
	past := line.Stretch{From: now.Add(-caseMixOf), Until: now + 1}
	if err := d.store.EveryAttempt(ctx, past, func(_ line.Operator, t line.Tried) { tried = append(tried, t) }); err != nil {
		return nil, fmt.Errorf("read every attempt: %w", err)
	}
	mix, err := outcomes.FitCaseMix(tried, unit)
	switch {
	case outcomes.TooFew(err):
		mix = nil
	case err != nil:
		return nil, fmt.Errorf("expect failures: %w", err)
	}
	d.mixes.mu.Lock()
	defer d.mixes.mu.Unlock()
	if d.mixes.kept == nil {
		d.mixes.kept = map[outcomes.Unit]keptMix{}
	}
	d.mixes.kept[unit] = keptMix{now, mix}
	return mix, nil
}
