package audit_test

import (
	"cmp"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// The bedside works out the duties other than review-overdue by walking one
// line's time minute by minute, with one small clerk for each rule that hears
// every entry as it happens. It shares the fold of marks into a history with
// the engine and nothing else.

// walkedRules are the rules that have a clerk.
var walkedRules = []line.Rule{
	audit.NeedDaily, audit.DwellCheck, audit.DressingOverdue, audit.RemoveNotNeeded, audit.ActOnPhlebitis, audit.ActOnComplication,
	audit.LeftAfterDischarge, audit.ResiteAfterEmergency, audit.WatchAfterRemoval,
}

// owed is a duty as a clerk sees it.
type owed struct {
	rule   line.Rule
	due    line.Minute
	limit  line.Minute // unmet by then it is missed; Far: no such moment
	ended  line.Minute
	how    string
	ward   line.Key
	atOnce bool // due in the minute of its cause
}

// happening is an entry as the bedside tells it: the part of a discharge that
// names a line left in comes with the discharge.
type happening struct {
	line.Mark
	leftIn bool
}

// clerk keeps one rule's duties. tick comes before a minute's entries.
type clerk interface {
	tick()
	hear(h happening)
	gone() // known to be found gone, after the entries of its last minute
}

type bedside struct {
	history *line.Subject
	line    *line.Line
	moves   []line.Mark // of the patient
	at, now line.Minute
	held    bool // a ward has the patient, as of the entries so far
	bounds  map[line.Key]map[line.Minute]bool
	duties  []*owed
}

// wardAt is the ward that has the patient, else the last that had.
func (b *bedside) wardAt(t line.Minute) line.Key {
	ward := line.Key(0)
	for _, s := range b.history.Stays {
		if s.From <= t {
			ward = s.Ward
		}
	}
	return ward
}

func (b *bedside) nextBoundary(ward line.Key, after line.Minute) line.Minute {
	for t := after + 1; ; t++ {
		if b.bounds[ward][t] {
			return t
		}
	}
}

// shiftLength is the length of the ward's shift that holds the moment.
func (b *bedside) shiftLength(t line.Minute) line.Minute {
	ward := b.wardAt(t)
	start := t
	for !b.bounds[ward][start] {
		start--
	}
	return b.nextBoundary(ward, t) - start
}

func (b *bedside) open(rule line.Rule, due, limit line.Minute) *owed {
	o := &owed{rule: rule, due: due, limit: limit, ended: line.Far}
	b.duties = append(b.duties, o)
	return o
}

func (b *bedside) drop(o *owed) {
	b.duties = slices.DeleteFunc(b.duties, func(d *owed) bool { return d == o })
}

// end ends a duty now, met or not.
func (b *bedside) end(o *owed, met bool) {
	switch {
	case met && (b.now < o.due || o.atOnce && b.now == o.due):
		o.how = "met-in-time"
	case b.now < o.due:
		b.drop(o)
		return
	case met && b.now < o.limit:
		o.how = "met-late"
	default:
		o.how = "missed"
	}
	o.ended = b.now
}

// outNow reports whether the line is taken out in this minute. Choice, the
// definition is open: of a removal and a discharge in one minute, the removal
// ends a ward's duties, whichever was recorded first.
func (b *bedside) outNow() bool { return b.line.Out == b.now && !b.line.Gone() }

// withdraw ends a duty that is not met and, before it is due, never counts.
func (b *bedside) withdraw(o *owed, met bool) {
	if b.now < o.due {
		b.drop(o)
		return
	}
	b.end(o, met)
}

// entries are what happened, in order: of the line and of the patient.
func (b *bedside) entries(moves []line.Mark) []happening {
	l := b.line
	var all []happening
	for _, marks := range [][]line.Mark{{l.Placement}, l.Reviews, l.Dressings, l.Checks, moves, b.history.Groups} {
		for _, m := range marks {
			all = append(all, happening{Mark: m})
		}
	}
	if l.Removal != nil && !l.Gone() {
		all = append(all, happening{Mark: *l.Removal})
	}
	for i, h := range all {
		all[i].leftIn = slices.ContainsFunc(l.LeftIn, func(m line.Mark) bool { return h.Kind == line.KindDischarge && m.Seq == h.Seq })
	}
	slices.SortFunc(all, func(a, b happening) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Seq, b.Seq))
	})
	return all
}

func (b *bedside) walk() {
	clerks := []clerk{
		&needClerk{bedside: b}, &dwellClerk{bedside: b}, &dressingClerk{bedside: b}, &notNeededClerk{bedside: b}, &phlebitisClerk{bedside: b},
		&complicationClerk{bedside: b}, &dischargeClerk{bedside: b}, &emergencyClerk{bedside: b}, &watchClerk{bedside: b},
	}
	entries := b.entries(b.moves)
	for b.now = min(entries[0].At, b.line.Placed); b.now <= b.at; b.now++ {
		for _, c := range clerks {
			c.tick()
		}
		for ; len(entries) > 0 && entries[0].At == b.now; entries = entries[1:] {
			for _, c := range clerks {
				c.hear(entries[0])
			}
			switch entries[0].Kind {
			case line.KindAdmission, line.KindTransfer:
				b.held = true
			case line.KindDischarge:
				b.held = false
			}
		}
		if b.line.Gone() && b.now == b.line.Out {
			for _, c := range clerks {
				c.gone()
			}
			b.duties = slices.DeleteFunc(b.duties, func(o *owed) bool { return o.due > b.now })
			break
		}
	}
	b.now = b.at
	for _, o := range b.duties {
		b.settle(o)
	}
}

// settle says how a duty stands at the moment asked about.
func (b *bedside) settle(o *owed) {
	if o.ward == 0 {
		o.ward = b.wardAt(o.due)
	}
	if o.how == "" {
		o.how = "open"
		if o.limit <= b.at {
			o.how = "missed"
		}
	}
	if o.how == "met-in-time" {
		return
	}
	for t := o.due; t < min(o.ended, b.at); t++ {
		for _, j := range b.history.Justified {
			if j.RuleTag == o.rule.Tag() && (j.Line == 0 || j.Line == b.line.Key) && j.At <= t && t < j.Until && t < j.At+24*60 {
				o.how = "accepted"
				return
			}
		}
	}
}

// compared counts the lines whose duties were compared, and the duties by rule.
type compared struct {
	lines, leftOut int
	duties         map[string]int
}

func TestDuties_AgreeWithAMinuteByMinuteWalk(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	seen := compared{duties: map[string]int{}}
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, rapid.Bool().Draw(t, "may be found gone"), rapid.Bool().Draw(t, "may be vague"))
		at := h.moment("asked")
		a := audit.Assess(book, h.marks, at)
		bounds := map[line.Key]map[line.Minute]bool{}
		for _, w := range []line.Key{0, wardA, wardB, wardC} {
			bounds[w] = boundaries(w, h.start, h.start+generatedSpan)
		}
		moves := withoutEmptyStays(movesInOrder(h.upTo(at)))
		for _, l := range a.History.Lines {
			if readmittedAtOnce(&a.History) || takenOutAsTheyCame(&a.History, l) || lookedAtAsTheyMoved(moves, l) {
				seen.leftOut++
				continue
			}
			b := &bedside{history: &a.History, line: l, moves: moves, at: at, bounds: bounds}
			b.walk()
			b.compare(t, a, &seen)
		}
	})
	t.Logf("%d lines compared, %d left out, duties: %v", seen.lines, seen.leftOut, seen.duties)
}

func (b *bedside) compare(t *rapid.T, a audit.Assessment, seen *compared) {
	var want, got []string
	line := func(rule line.Rule, due line.Minute, how string, ended line.Minute, ward line.Key) string {
		return fmt.Sprintf("%s due %s %s ended %s ward %d", rule, wall(due), how, wall(ended), ward)
	}
	for _, o := range b.duties {
		if o.due <= b.at {
			want = append(want, line(o.rule, o.due, o.how, o.ended, o.ward))
			seen.duties[fmt.Sprint(o.rule, " ", o.how)]++
		}
	}
	for _, d := range a.Duties {
		if slices.Contains(walkedRules, d.Rule) && d.Line == b.line.Key && d.Due <= b.at {
			got = append(got, line(d.Rule, d.Due, d.How.String(), d.Ended, d.Ward))
		}
	}
	slices.Sort(want)
	slices.Sort(got)
	seen.lines++
	if !slices.Equal(want, got) {
		b.tell(t)
	}
	require.Equal(t, want, got, "line %d at %s", b.line.Key, wall(b.at))
}

// tell writes out the line's story.
func (b *bedside) tell(t *rapid.T) {
	for _, s := range b.history.Stays {
		t.Logf("stay in %d: %s to %s", s.Ward, wall(s.From), wall(s.Until))
	}
	for _, h := range b.entries(append(slices.Clone(b.moves), b.history.Justified...)) {
		t.Logf("%s %s seq %d until %s %+v", wall(h.At), h.Kind, h.Seq, wall(h.Until), h.Detail)
	}
	t.Logf("out %s gone %v", wall(b.line.Out), b.line.Gone())
}

func wall(m line.Minute) string {
	if m == line.Far {
		return "never"
	}
	return m.Time().In(london).Format("2 Jan 15:04 MST")
}

const day = line.Minute(24 * time.Hour / time.Minute)
