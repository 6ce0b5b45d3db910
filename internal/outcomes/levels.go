package outcomes

import (
	"cmp"
	"maps"
	"slices"

	"dwellbook/internal/stats"
)

// coding turns the levels of some groupings into a regression's covariates:
// each level but the commonest of its grouping, with which the others are
// compared, is a 0/1 number of its own.
type coding struct {
	by      []By
	levels  [][]leveled      // of each grouping, the commonest first
	column  []map[string]int // of each grouping, by level; reference for the commonest
	columns int
}

// leveled counts what a level has.
type leveled struct {
	Name
	n, failed int
}

// reference is the column of a level that has none.
const reference = -1

// newCoding takes the levels that have enough failures to be compared among n
// observations.
func newCoding(by []By, n int, group func(i int, b By) Name, failed func(i int) bool) coding {
	c := coding{by: by, levels: make([][]leveled, len(by)), column: make([]map[string]int, len(by))}
	for k, b := range by {
		all := map[string]*leveled{}
		for i := range n {
			name := group(i, b)
			l := all[name.ID]
			if l == nil {
				l = &leveled{Name: name}
				all[name.ID] = l
			}
			if l.n++; failed(i) {
				l.failed++
			}
		}
		for _, id := range slices.Sorted(maps.Keys(all)) {
			if all[id].failed >= stats.EventsPerCovariate {
				c.levels[k] = append(c.levels[k], *all[id])
			}
		}
		slices.SortStableFunc(c.levels[k], func(a, b leveled) int { return cmp.Compare(b.n, a.n) })
		c.column[k] = map[string]int{}
		for i, l := range c.levels[k] {
			c.column[k][l.ID] = reference
			if i > 0 {
				c.column[k][l.ID] = c.columns
				c.columns++
			}
		}
	}
	return c
}

// covariates are those of one observation; ok is false where one of its levels
// is not compared.
func (c coding) covariates(group func(b By) Name) (row []float64, ok bool) {
	row = make([]float64, c.columns)
	for k, b := range c.by {
		at, compared := c.column[k][group(b).ID]
		if !compared {
			return nil, false
		}
		if at != reference {
			row[at] = 1
		}
	}
	return row, true
}
