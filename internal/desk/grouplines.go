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

// GroupLines are the lines of one group of a [Compliance] whose duties of one
// rule were not all met in time, the longest overdue first.
type GroupLines struct {
	Of    int // such lines
	Lines []LineCount
}

// LineCount is how the duties of one line stand in a group.
type LineCount struct {
	audit.Count
	Current line.Current
	key     line.Key
}

// GroupLines opens a group, by its id, to at most 20 lines.
func (d *Desk) GroupLines(ctx context.Context, who Person, q PeriodQuestion, rule line.Rule, group string) (*GroupLines, error) {
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
	counting := audit.Counting{Period: q.Period, By: q.By}
	if w, ok := h.Ward(q.Ward); ok {
		counting.Ward = w.Key
	}
	names := &Compliance{By: q.By, house: h}
	g := &GroupLines{}
	var mu sync.Mutex
	err = d.spread(ctx, l, q.Period, func() func(line.Key, []line.Mark) {
		return func(_ line.Key, marks []line.Mark) {
			a := audit.AssessDuties(l.book, marks, q.At)
			for _, c := range countLines(l.book, &a, counting, rule) {
				if names.NameOf(ctx, rule, c.Slot).ID == group {
					mu.Lock()
					g.take(c)
					mu.Unlock()
				}
			}
		}
	})
	if err != nil {
		return nil, err
	}
	return g, d.nameLines(ctx, g)
}

// countLines counts each line's duties of a rule by itself, where any was not
// met in time.
func countLines(book *audit.Rulebook, a *audit.Assessment, counting audit.Counting, rule line.Rule) []LineCount {
	var list []LineCount
	duties := a.Duties
	for i := 0; i < len(duties); {
		n, late := i, false
		for ; n < len(duties) && duties[n].Rule == duties[i].Rule && duties[n].Line == duties[i].Line; n++ {
			late = late || duties[n].How != audit.MetInTime && duties[n].How != audit.Pending
		}
		if late && duties[i].Rule == rule {
			one := *a
			one.Duties = duties[i:n]
			t := audit.NewTally(book, counting)
			t.Add(&one)
			for _, c := range t.Counts() {
				if c.MetLate+c.Missed+c.Open > 0 || c.Overdue+c.Unaccounted > 0 {
					list = append(list, LineCount{Count: c, key: duties[i].Line})
				}
			}
		}
		i = n
	}
	return list
}

// take keeps the line if it is among the worst so far.
func (g *GroupLines) take(c LineCount) {
	g.Of++
	at, _ := slices.BinarySearchFunc(g.Lines, c, func(x, y LineCount) int {
		return cmp.Or(cmp.Compare(y.Overdue+y.Unaccounted, x.Overdue+x.Unaccounted), cmp.Compare(y.Missed, x.Missed), cmp.Compare(x.key, y.key))
	})
	g.Lines = slices.Insert(g.Lines, at, c)
	g.Lines = g.Lines[:min(len(g.Lines), mostWorst)]
}

func (d *Desk) nameLines(ctx context.Context, g *GroupLines) error {
	keys := make([]line.Key, 0, len(g.Lines))
	for _, c := range g.Lines {
		keys = append(keys, c.key)
	}
	slices.Sort(keys)
	lines, err := d.store.LinesByKey(ctx, slices.Compact(keys))
	for i := range g.Lines {
		g.Lines[i].Current = lines[g.Lines[i].key]
	}
	return err
}
