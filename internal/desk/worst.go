package desk

import (
	"cmp"
	"context"
	"slices"
	"sync"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// WorstStretch is one of the longest stretches in which a duty was overdue.
type WorstStretch struct {
	audit.Standing
	Current line.Current
	Ward    Ward
}

// mostWorst is how many stretches a report lists.
const mostWorst = 20

// Worst are the longest stretches of a period in which a duty was overdue; rule,
// if given, picks one.
func (d *Desk) Worst(ctx context.Context, who Person, q PeriodQuestion, rule line.Rule) ([]WorstStretch, error) {
	if err := who.require(account.SeeAudit); err != nil {
		return nil, err
	}
	h, l, err := d.ask(ctx, &q)
	if err != nil {
		return nil, err
	}
	if err := h.refuseUnknown("", rule); err != nil {
		return nil, err
	}
	only, one := h.Ward(q.Ward)
	var mu sync.Mutex
	var stood []audit.Standing
	err = d.spread(ctx, l, q.Period, func() func(line.Key, []line.Mark) {
		return func(_ line.Key, marks []line.Mark) {
			a := audit.AssessDuties(l.book, marks, q.At)
			for _, s := range a.Standing(q.Period) {
				if (rule == "" || rule == s.Rule) && (!one || s.Ward == only.Key) {
					mu.Lock()
					stood = append(stood, s)
					if len(stood) > 50*mostWorst {
						stood = longest(stood)
					}
					mu.Unlock()
				}
			}
		}
	})
	if err != nil {
		return nil, err
	}
	return d.worst(ctx, h, stood)
}

// longest are the longest stretches; of equals, the earlier.
func longest(stood []audit.Standing) []audit.Standing {
	slices.SortFunc(stood, func(a, b audit.Standing) int {
		return cmp.Or(cmp.Compare(b.Until-b.From, a.Until-a.From), cmp.Compare(a.From, b.From), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Rule, b.Rule))
	})
	return stood[:min(len(stood), mostWorst)]
}

// worst names the longest stretches.
func (d *Desk) worst(ctx context.Context, h *House, stood []audit.Standing) ([]WorstStretch, error) {
	stood = longest(stood)
	keys := make([]line.Key, 0, len(stood))
	for _, s := range stood {
		keys = append(keys, s.Line)
	}
	slices.Sort(keys)
	lines, err := d.store.LinesByKey(ctx, slices.Compact(keys))
	if err != nil {
		return nil, err
	}
	var worst []WorstStretch
	for _, s := range stood {
		worst = append(worst, WorstStretch{s, lines[s.Line], h.WardByKey(s.Ward)})
	}
	return worst, nil
}
