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

// The oracle works out review-overdue by walking minute by minute, straight
// from the definitions and without a line of the engine's code. It is slow and
// it is meant to be.

// walked is a duty as the oracle sees it.
type walked struct {
	due, opens, ended line.Minute
	how               string
	shift             bool
}

type oracle struct {
	history *line.Subject
	line    *line.Line
	at      line.Minute
	bounds  map[line.Key]map[line.Minute]bool
	looks   []line.Mark // reviews and removal, up to at
	used    map[int]bool
	duties  []walked
}

// boundaries lists a ward's shift boundaries, day by day on the wall clock.
func boundaries(ward line.Key, from, until line.Minute) map[line.Minute]bool {
	set := map[line.Minute]bool{}
	shifts := shiftsOf[ward]
	if shifts == nil {
		shifts = []line.ShiftTime{450, 1170} // the policy's
	}
	for d := from.Time().AddDate(0, 0, -2); line.MinuteOf(d) < until+4*24*60; d = d.AddDate(0, 0, 1) {
		for _, s := range shifts {
			wall := time.Date(d.Year(), d.Month(), d.Day(), int(s)/60, int(s)%60, 0, 0, time.UTC)
			m, err := line.OnWall(wall, london, line.First)
			for err != nil { // skipped: the first moment after
				wall = wall.Add(time.Minute)
				m, err = line.OnWall(wall, london, line.First)
			}
			set[m] = true
		}
	}
	return set
}

func (o *oracle) ward(t line.Minute) line.Key {
	for _, s := range o.history.Stays {
		if s.From <= t && t < s.Until {
			return s.Ward
		}
	}
	return 0
}

// clock is the interval at a minute; 0 where looks fall due by shift.
func (o *oracle) clock(t line.Minute) line.Minute {
	every := line.Minute(0)
	if o.ward(t) == wardC {
		every = line.Minute(clockEvery / time.Minute)
	}
	for _, w := range o.history.Watches {
		if w.From <= t && t < w.Until && (every == 0 || every > 240) {
			every = line.Minute(watchEvery / time.Minute)
		}
	}
	return every
}

func (o *oracle) lookIn(from, until line.Minute) int {
	return slices.IndexFunc(o.looks, func(m line.Mark) bool { return m.At >= from && m.At < until && !o.used[int(m.Seq)] })
}

func (o *oracle) walk() {
	l := o.line
	out := l.Out
	var start, since, ownEnd, last, entered line.Minute
	mode := line.Minute(-1) // -1: no ward; 0: shifts; else the clock's interval
	clockDone := false
	finish := func(t line.Minute) {
		o.shift(start, since, t)
		if min(t, out)-start >= 120 {
			since = t
		}
		start = t
	}
	ownEndOf := func(t line.Minute) line.Minute {
		for e := t + 1; ; e++ {
			if o.bounds[o.ward(t)][e] {
				return e
			}
		}
	}
	horizon := o.at + 3*24*60
	for t := l.Placed; t <= horizon; t++ {
		now := line.Minute(-1)
		if o.ward(t) != 0 {
			now = o.clock(t)
		}
		gone := t > out
		if gone && mode != 0 {
			break
		}
		if mode == 0 && t > start && (t == ownEnd || o.bounds[o.ward(min(t, out-1))][t]) {
			finish(t)
			if t >= out {
				break
			}
			if now == 0 {
				ownEnd = ownEndOf(t)
			}
		}
		if gone {
			continue // only the shift in which it came out is left to end
		}
		if now != mode {
			if t == out {
				if mode == 0 { // it came out as the shift was cut off: that meets the shift
					continue
				}
			} else {
				mode, start, since, entered, clockDone = now, t, t, t, false
				if mode == 0 {
					ownEnd = ownEndOf(t)
				}
				for _, m := range append([]line.Mark{l.Placement}, o.looks...) {
					if m.Kind != line.KindRemoval && m.At <= t {
						last = max(last, m.At)
					}
				}
			}
		}
		if mode <= 0 {
			continue
		}
		due := max(entered, last+mode)
		if t == due && !clockDone && now == mode {
			o.duties = append(o.duties, walked{due: due, opens: max(entered, last), how: "unmet"})
			clockDone = true
		}
		if t > last && slices.ContainsFunc(o.looks, func(m line.Mark) bool { return m.At == t }) {
			if !clockDone {
				o.duties = append(o.duties, walked{due: due, opens: max(entered, last), ended: t, how: "met-in-time"})
			}
			last, clockDone = t, false
		}
		if t >= out {
			break
		}
	}
}

// shift closes one shift [start, end); looks since then count in it.
func (o *oracle) shift(start, since, end line.Minute) {
	inSituEnd := min(end, o.line.Out)
	if inSituEnd-start < 120 {
		return
	}
	d := walked{due: end, opens: start, how: "unmet", shift: true}
	defer func() { o.duties = append(o.duties, d) }()
	if o.line.Placed >= since && o.line.Placed >= end-360 {
		d.how, d.ended = "met-in-time", o.line.Placed
		return
	}
	if i := o.lookIn(since, end); i >= 0 {
		d.how, d.ended = "met-in-time", o.looks[i].At
		return
	}
	if slices.ContainsFunc(o.line.NotSeen, func(m line.Mark) bool { return m.At >= start && m.At < end && m.At <= o.at }) {
		d.how = "not-seen"
		return
	}
	if i := o.lookIn(end, end+30); i >= 0 {
		d.how, d.ended = "met-in-time", o.looks[i].At
		o.used[int(o.looks[i].Seq)] = true
	}
}

func (o *oracle) returns() {
	for i, m := range o.line.NotSeen {
		due := m.Until + 120
		if m.Until == 0 || o.ward(due) == 0 {
			continue
		}
		d := walked{due: due, opens: m.At, how: "unmet"}
		var look *line.Mark
		for k := range o.looks {
			if r := &o.looks[k]; r.At > m.At || r.At == m.At && r.Seq > m.Seq {
				look = r
				break
			}
		}
		if look != nil && look.At < due {
			d.how, d.ended = "met-in-time", look.At
		}
		if i+1 < len(o.line.NotSeen) {
			later := o.line.NotSeen[i+1]
			first := look != nil && look.At < due && (look.At < later.At || look.At == later.At && look.Seq < later.Seq)
			if later.At < due && !first {
				continue
			}
		}
		o.duties = append(o.duties, d)
	}
}

// settle finds how the unmet ended: by the next look, by the next due moment,
// or by the ward's part ending.
func (o *oracle) settle() {
	slices.SortStableFunc(o.duties, func(a, b walked) int { return int(a.due - b.due) })
	if o.line.Gone() {
		o.duties = slices.DeleteFunc(o.duties, func(d walked) bool { return d.due > o.line.Out })
	}
	for i := range o.duties {
		d := &o.duties[i]
		if d.due > o.at {
			continue
		}
		if d.how == "not-seen" {
			d.ended = d.due
		}
		if d.how != "unmet" {
			continue
		}
		d.how, d.ended = "open", line.Far
		for t := d.due; t <= o.at; t++ {
			if slices.ContainsFunc(o.looks, func(m line.Mark) bool { return m.At == t }) && !o.fellDue(d.due, t) {
				d.how, d.ended = "met-late", t
				break
			}
			left := o.ward(t) == 0 || o.line.Gone() && t >= o.line.Out
			if left || o.fellDue(d.due, t) {
				d.how, d.ended = "missed", t
				break
			}
		}
	}
}

// fellDue reports whether another duty fell due after due and by t.
func (o *oracle) fellDue(due, t line.Minute) bool {
	return slices.ContainsFunc(o.duties, func(d walked) bool { return d.due > due && d.due <= t })
}

func (o *oracle) covered(t line.Minute) bool {
	return slices.ContainsFunc(o.history.Justified, func(j line.Mark) bool {
		return j.RuleTag == audit.ReviewOverdue.Tag() && (j.Line == 0 || j.Line == o.line.Key) && j.At <= t && t < j.Until && t < j.At+24*60
	})
}

// accept marks the duties that a justification answered in an overdue minute.
func (o *oracle) accept() {
	for i := range o.duties {
		d := &o.duties[i]
		if d.how != "met-late" && d.how != "missed" && d.how != "open" {
			continue
		}
		for t := d.due; t < min(d.ended, o.at); t++ {
			if o.covered(t) {
				d.how = "accepted"
				break
			}
		}
	}
}

func (o *oracle) overdue(t line.Minute) bool {
	return slices.ContainsFunc(o.duties, func(d walked) bool {
		return d.how != "met-in-time" && d.how != "not-seen" && d.due <= t && t < d.ended
	})
}

func TestReviewOverdue_AgreesWithAMinuteByMinuteWalk(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, rapid.Bool().Draw(t, "may be found gone"), false)
		at := h.moment("asked")
		a := audit.Assess(book, h.marks, at)
		bounds := map[line.Key]map[line.Minute]bool{}
		for _, w := range []line.Key{wardA, wardB, wardC} {
			bounds[w] = boundaries(w, h.start, h.start+generatedSpan)
		}
		for _, l := range a.History.Lines {
			o := &oracle{history: &a.History, line: l, at: at, bounds: bounds, used: map[int]bool{}, looks: slices.Clone(l.Reviews)}
			if l.Removal != nil && !l.Gone() {
				o.looks = append(o.looks, *l.Removal)
			}
			o.walk()
			o.returns()
			o.settle()
			o.accept()
			compare(t, o, a)
		}
	})
}

func compare(t *rapid.T, o *oracle, a audit.Assessment) {
	var want, got []string
	for _, d := range o.duties {
		if d.due <= o.at {
			want = append(want, fmt.Sprint(d.due, " ", d.how, " ", d.ended))
		}
	}
	for _, d := range a.Duties {
		if d.Rule == audit.ReviewOverdue && d.Line == o.line.Key && d.Due <= o.at {
			got = append(got, fmt.Sprint(d.Due, " ", d.How, " ", d.Ended))
		}
	}
	slices.Sort(want)
	slices.Sort(got)
	require.Equal(t, want, got, "line %d at %s", o.line.Key, o.at)
	finding := func(list []audit.Finding) string {
		for _, f := range list {
			if f.Rule == audit.ReviewOverdue && f.Line == o.line.Key {
				return fmt.Sprint(f.Since, f.Overdue)
			}
		}
		return ""
	}
	expected := ""
	if o.overdue(o.at) {
		since, minutes := o.at, 0
		for ; o.overdue(since - 1); since-- {
			if !o.covered(since - 1) {
				minutes++
			}
		}
		expected = fmt.Sprint(since, time.Duration(minutes)*time.Minute)
	}
	if o.covered(o.at) {
		require.Equal(t, "", finding(a.Findings()))
		require.Equal(t, expected, finding(a.Answered()))
		return
	}
	require.Equal(t, expected, finding(a.Findings()), "line %d at %s", o.line.Key, o.at)
}
