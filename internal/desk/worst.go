package desk

import (
	"cmp"
	"context"
	"slices"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// WorstStretch is one of the longest stretches in which a duty was overdue.
type WorstStretch struct {
	audit.Standing
	Current line.Current
	Ward    Ward
}

// mostWorst is how many stretches or lines are listed.
const mostWorst = 20

// worst keeps the longest stretches met so far in which a duty was overdue. It
// belongs to one goroutine at a time.
type worst struct {
	rule  line.Rule // only this one; empty: any
	ward  line.Key  // only where they began in it; 0: in any
	stood []audit.Standing
}

func (w *worst) add(stood []audit.Standing) {
	for _, s := range stood {
		if s.IsDuty && (w.rule == "" || w.rule == s.Rule) && (w.ward == 0 || w.ward == s.Ward) {
			w.stood = append(w.stood, s)
		}
	}
	if len(w.stood) > 50*mostWorst { // seldom enough that sorting costs nothing
		w.cut()
	}
}

// cut leaves the longest; of equals, the earlier.
func (w *worst) cut() {
	slices.SortFunc(w.stood, func(a, b audit.Standing) int {
		return cmp.Or(cmp.Compare(b.Until-b.From, a.Until-a.From), cmp.Compare(a.From, b.From), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Rule, b.Rule))
	})
	w.stood = w.stood[:min(len(w.stood), mostWorst)]
}

// nameWorst adds lines and wards to the longest stretches.
func (d *Desk) nameWorst(ctx context.Context, h *House, w *worst) ([]WorstStretch, error) {
	w.cut()
	lines, err := linesOf(ctx, d, w.stood, func(s audit.Standing) line.Key { return s.Line })
	if err != nil {
		return nil, err
	}
	var list []WorstStretch
	for _, s := range w.stood {
		list = append(list, WorstStretch{s, lines[s.Line], h.WardByKey(s.Ward)})
	}
	return list, nil
}
