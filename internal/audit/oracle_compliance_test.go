package audit_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// The compliance of a generated ward, counted minute by minute from the duties
// of the slow walk in oracle_test.go, without a line of the engine's code.

// counted is what the walk counts in one group.
type counted struct {
	Lines, InTime, Late, Missed, Open, Accepted, NotSeen int
	Overdue, Unaccounted                                 int
	Lateness                                             []int
	Unfinished                                           int
	Met, Of                                              map[line.Key]int // by line, of those that ended
}

type counter struct {
	period line.Stretch
	by     audit.By
	ward   line.Key // only this one; 0: all
	starts map[line.Key]map[line.Minute]line.ShiftTime
	groups map[string]*counted
}

// shiftStarts lists when a ward's shifts start, each by its time of day.
func shiftStarts(ward line.Key, from, until line.Minute) map[line.Minute]line.ShiftTime {
	starts := map[line.Minute]line.ShiftTime{}
	for _, s := range timesOf(ward) {
		for d := from.Time().AddDate(0, 0, -3); line.MinuteOf(d) < until+5*24*60; d = d.AddDate(0, 0, 1) {
			wall := time.Date(d.Year(), d.Month(), d.Day(), int(s)/60, int(s)%60, 0, 0, time.UTC)
			m, err := line.OnWall(wall, london, line.First)
			for err != nil {
				wall = wall.Add(time.Minute)
				m, err = line.OnWall(wall, london, line.First)
			}
			starts[m] = s
		}
	}
	return starts
}

func timesOf(ward line.Key) []line.ShiftTime {
	if times := shiftsOf[ward]; times != nil {
		return times
	}
	return []line.ShiftTime{450, 1170} // the policy's
}

// shift is the ward's shift that holds a minute: when it starts, and its times.
func (c *counter) shift(ward line.Key, t line.Minute) (from line.Minute, name string) {
	for from = t; ; from-- {
		if start, ok := c.starts[ward][from]; ok {
			times := timesOf(ward)
			next := times[(slices.Index(times, start)+1)%len(times)]
			return from, fmt.Sprintf("%02d:%02d-%02d:%02d", start/60, start%60, next/60, next%60)
		}
	}
}

// group is where a minute counts, or a duty whose shift starts earlier.
func (c *counter) group(ward line.Key, t line.Minute) *counted {
	key := ""
	switch c.by {
	case audit.ByWard:
		key = fmt.Sprint("ward ", ward)
	case audit.ByShift:
		_, key = c.shift(ward, t)
	case audit.ByWeekday:
		key = t.Time().In(london).Weekday().String()
	}
	g := c.groups[key]
	if g == nil {
		g = &counted{Met: map[line.Key]int{}, Of: map[line.Key]int{}}
		c.groups[key] = g
	}
	return g
}

// lastWard is the ward that has the patient at a minute, else the last that had.
func lastWard(h *line.Subject, t line.Minute) (ward line.Key) {
	for _, s := range h.Stays {
		if s.From <= t {
			ward = s.Ward
		}
	}
	return ward
}

// wardOf is the ward a duty belongs to: of a shift, that which held the line
// longest in it, of equals the later; else that of its due minute.
func wardOf(o *oracle, d walked) line.Key {
	if !d.shift {
		return lastWard(o.history, d.due)
	}
	held, lastHeld := map[line.Key]int{}, map[line.Key]line.Minute{}
	for t := d.opens; t < min(d.due, o.line.Out); t++ {
		if w := o.ward(t); w != 0 {
			held[w]++
			lastHeld[w] = t
		}
	}
	var best line.Key
	for w := range held {
		if best == 0 || held[w] > held[best] || held[w] == held[best] && lastHeld[w] > lastHeld[best] {
			best = w
		}
	}
	return best
}

func (c *counter) add(o *oracle) {
	lines := map[*counted]bool{}
	for _, d := range o.duties {
		if d.due > o.at || d.due < c.period.From || d.due >= c.period.Until {
			continue
		}
		ward, at := wardOf(o, d), d.due
		if d.shift {
			at-- // its shift is the one that ends at its due moment
			if c.by == audit.ByWeekday {
				at, _ = c.shift(ward, at)
			}
		}
		if c.ward != 0 && ward != c.ward {
			continue
		}
		g := c.group(ward, at)
		if !lines[g] {
			lines[g] = true
			g.Lines++
		}
		g.take(o, d)
	}
	for t := c.period.From; t < min(c.period.Until, o.at); t++ {
		ward := lastWard(o.history, t)
		if !o.overdue(t) || o.covered(t) || c.ward != 0 && ward != c.ward {
			continue
		}
		if g := c.group(ward, t); o.unheard(t) {
			g.Unaccounted++
		} else {
			g.Overdue++
		}
	}
}

func (g *counted) take(o *oracle, d walked) {
	switch d.how {
	case "met-in-time":
		g.InTime++
		g.Met[o.line.Key]++
		g.Of[o.line.Key]++
	case "met-late":
		g.Late++
		g.Of[o.line.Key]++
	case "missed":
		g.Missed++
		g.Of[o.line.Key]++
	case "open":
		g.Open++
	case "accepted":
		g.Accepted++
		return
	case "not-seen":
		g.NotSeen++
		return
	}
	if d.how != "met-in-time" {
		g.Lateness = append(g.Lateness, int(min(d.ended, o.at)-d.due))
		if d.ended > o.at {
			g.Unfinished++
		}
	}
}

// unheard reports whether the line is in and no entry has been about it for three days.
func (o *oracle) unheard(t line.Minute) bool {
	last := o.line.Placed
	for _, m := range o.line.Touched {
		if m <= t {
			last = max(last, m)
		}
	}
	for _, m := range o.line.LeftIn {
		if m.At <= t {
			last = max(last, m.At)
		}
	}
	return t < o.line.Out && t >= last+3*24*60
}

func TestTally_AgreesWithAMinuteByMinuteWalk(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	rapid.Check(t, func(t *rapid.T) {
		start := line.MinuteOf(pick(t, "start of all", starts...))
		at := start + line.Minute(rapid.IntRange(0, generatedSpan).Draw(t, "judged"))
		from := start + line.Minute(rapid.IntRange(0, generatedSpan/2).Draw(t, "from"))
		c := &counter{
			period: line.Stretch{From: from, Until: from + line.Minute(rapid.IntRange(1, 5*24*60).Draw(t, "length"))},
			by:     pick(t, "by", audit.ByRule, audit.ByWard, audit.ByShift, audit.ByWeekday), ward: pick(t, "only", 0, 0, 0, wardA, wardB, wardC),
			starts: map[line.Key]map[line.Minute]line.ShiftTime{}, groups: map[string]*counted{},
		}
		bounds := map[line.Key]map[line.Minute]bool{}
		for _, w := range []line.Key{wardA, wardB, wardC} {
			c.starts[w] = shiftStarts(w, start, start+generatedSpan)
			bounds[w] = boundaries(w, start, start+generatedSpan)
		}
		asked := audit.Counting{Period: c.period, By: c.by, Ward: c.ward}
		parts := []*audit.Tally{audit.NewTally(book, asked), audit.NewTally(book, asked)}
		for i := range rapid.IntRange(1, 4).Draw(t, "patients") {
			marks := drawPatient(t, start, line.Key(i+1))
			a := audit.AssessDuties(book, marks, at)
			parts[i%2].Add(&a)
			for _, l := range a.History.Lines {
				o := &oracle{history: &a.History, line: l, at: at, bounds: bounds, used: map[int]bool{}, looks: slices.Clone(l.Reviews)}
				if l.Removal != nil && !l.Gone() {
					o.looks = append(o.looks, *l.Removal)
				}
				o.walk()
				o.returns()
				o.settle()
				o.accept()
				c.add(o)
			}
		}
		parts[0].Merge(parts[1])
		require.Equal(t, c.shown(), shownCounts(parts[0], c.by))
	})
}

// drawPatient draws one of several patients, from a common start.
func drawPatient(t *rapid.T, start line.Minute, subject line.Key) []line.Mark {
	h := drawHistory(t, rapid.Bool().Draw(t, "may be found gone"), false)
	for i := range h.marks {
		m := &h.marks[i]
		m.At += start - h.start
		if m.Until != 0 {
			m.Until += start - h.start
		}
		m.Subject = subject
		if m.Line != 0 {
			m.Line += 1000 * subject
		}
	}
	return h.marks
}

// shown writes the groups that hold anything, in order.
func (c *counter) shown() []string {
	list := []string{}
	for key, g := range c.groups {
		if g.Lines+g.Overdue+g.Unaccounted == 0 {
			continue
		}
		slices.Sort(g.Lateness)
		k, mm, mo, oo := 0, 0, 0, 0
		for l, of := range g.Of {
			k++
			mm, mo, oo = mm+g.Met[l]*g.Met[l], mo+g.Met[l]*of, oo+of*of
		}
		list = append(list, fmt.Sprint(key, ": ", g.Lines, g.InTime, g.Late, g.Missed, g.Open, g.Accepted, g.NotSeen, " over ", g.Overdue, g.Unaccounted,
			" late ", g.Lateness, g.Unfinished, " lines ", k, mm, mo, oo))
	}
	slices.Sort(list)
	return list
}

func shownCounts(tally *audit.Tally, by audit.By) []string {
	list := []string{}
	for _, g := range tally.Counts() {
		if g.Rule != audit.ReviewOverdue {
			continue
		}
		key := ""
		switch by {
		case audit.ByWard:
			key = fmt.Sprint("ward ", g.Ward)
		case audit.ByShift:
			key = g.Shift.String()
		case audit.ByWeekday:
			key = time.Weekday(g.Weekday % 7).String()
		}
		late := make([]int, len(g.Late))
		for i, m := range g.Late {
			late[i] = int(m)
		}
		list = append(list, fmt.Sprint(key, ": ", g.Lines, g.MetInTime, g.MetLate, g.Missed, g.Open, g.Accepted, g.NotSeen, " over ",
			int(g.Overdue/time.Minute), int(g.Unaccounted/time.Minute), " late ", late, g.Unfinished,
			" lines ", g.Clusters.N, g.Clusters.MetMet, g.Clusters.MetOf, g.Clusters.OfOf))
	}
	slices.Sort(list)
	return list
}
