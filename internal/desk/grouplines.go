package desk

import (
	"cmp"
	"context"
	"slices"

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

// opening gathers the lines of one group, from the read that counts the groups.
// It belongs to one goroutine at a time.
type opening struct {
	GroupLines
	of func(audit.Slot) bool // whether it is the group's
}

// add takes what countLines found of one patient.
func (o *opening) add(counts []LineCount) {
	for _, c := range counts {
		if o.of(c.Slot) {
			o.take(c)
		}
	}
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

// nameLines adds the lines to their counts.
func (d *Desk) nameLines(ctx context.Context, g *GroupLines) error {
	lines, err := linesOf(ctx, d, g.Lines, func(c LineCount) line.Key { return c.key })
	for i := range g.Lines {
		g.Lines[i].Current = lines[g.Lines[i].key]
	}
	return err
}
