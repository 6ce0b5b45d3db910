package audit

import (
	"slices"
	"time"

	"dwellbook/internal/line"
)

// Count is how the duties of one rule in one slot stand, as recorded.
type Count struct {
	Rule line.Rule
	Slot
	Lines int // with a duty in the counts

	MetInTime, MetLate, Missed, Open int
	Accepted, NotSeen                int             // apart, outside the proportion
	MetBy                            [metByCount]int // of those met, in time or late, what met them

	Overdue     time.Duration // minutes of the period in which a duty was overdue, each line's joined, but for:
	Unaccounted time.Duration // such minutes in which the line stood under "Is it still in?"

	Late       []line.Minute // how late each duty past due was met or ended, in ascending order; unmet ones as so far
	Unfinished int           // of these, unmet so far
	Clusters   Clusters      // lines as clusters of the duties that came to an end

	current   line.Key // the line that met and decided are of
	met, done int
}

const metByCount = BySiteCheck + 1

// Clusters are the sums over lines from which an interval is made that knows
// that the duties of one line go together.
type Clusters struct {
	N                   int // lines with a duty that came to an end
	MetMet, MetOf, OfOf int // sums over lines of squares and products
}

// Due is how many duties fell due: met in time, met late, missed or open.
func (c *Count) Due() int { return c.Decided() + c.Open }

// Decided is how many of them came to an end: the denominator of the proportion.
func (c *Count) Decided() int { return c.MetInTime + c.MetLate + c.Missed }

// LateAt is the lateness, in minutes, below which the share q, 0 to 1, of the
// duties past due lies, interpolated as definition 7 of Hyndman and Fan 1996
// (Am Stat 50:361-5); ok is false where there are none.
func (c *Count) LateAt(q float64) (minutes float64, ok bool) {
	n := len(c.Late)
	if n == 0 {
		return 0, false
	}
	place := q * float64(n-1)
	low := min(int(place), n-1)
	high := min(low+1, n-1)
	return float64(c.Late[low]) + (place-float64(low))*float64(c.Late[high]-c.Late[low]), true
}

// Counting says what is counted.
type Counting struct {
	Period line.Stretch // a duty counts where its due moment lies in it, a minute where it lies in it
	By     By
	Ward   line.Key // only this ward; 0: all
}

// Tally counts duties over many assessments, all made at the same moment. It
// belongs to one goroutine; the tallies of several are merged.
type Tally struct {
	book      *Rulebook
	ask       Counting
	counts    map[Slot]*[ruleCount]Count
	found     map[Slot]Unrecorded
	calendars map[line.Key]*calendar
	overdue   []line.Stretch // room for one line's, reused
	silent    []line.Stretch
}

// Unrecorded are the lines of which the record did not know what it should have.
type Unrecorded struct {
	Found int // came to light when they were already in: their time of placement is not known
	Gone  int // were found gone: nobody recorded that they came out
}

// Plus is both together.
func (u Unrecorded) Plus(o Unrecorded) Unrecorded {
	return Unrecorded{u.Found + o.Found, u.Gone + o.Gone}
}

// NewTally is an empty tally.
func NewTally(book *Rulebook, ask Counting) *Tally {
	return &Tally{
		book: book, ask: ask, counts: map[Slot]*[ruleCount]Count{}, found: map[Slot]Unrecorded{}, calendars: map[line.Key]*calendar{},
	}
}

// Add counts one patient.
func (t *Tally) Add(a *Assessment) {
	for i := 0; i < len(a.Duties); {
		n := a.sameDuties(i)
		t.addDuties(a, a.Duties[i:n])
		i = n
	}
	for _, l := range a.History.Lines {
		if at := l.Placed; l.Placement.Precision == line.NotKnown && t.ask.Period.Holds(at) && at <= a.At {
			t.note(a, at, Unrecorded{Found: 1})
		}
		if l.Gone() && t.ask.Period.Holds(l.Removal.At) && l.Removal.At <= a.At {
			t.note(a, l.Removal.At, Unrecorded{Gone: 1})
		}
	}
}

func (t *Tally) note(a *Assessment, at line.Minute, more Unrecorded) {
	ward, _ := wardFrom(&a.History, at)
	if t.ask.Ward != 0 && t.ask.Ward != ward {
		return
	}
	slot, _ := t.slotAt(ward, at)
	t.found[slot] = t.found[slot].Plus(more)
}

// addDuties counts one rule's duties on one line.
func (t *Tally) addDuties(a *Assessment, duties []Duty) {
	until := min(t.ask.Period.Until, a.At)
	t.overdue = t.overdue[:0]
	for i := range duties {
		d := &duties[i]
		if d.Due > a.At {
			continue // not yet reached
		}
		if t.ask.Period.Holds(d.Due) && (t.ask.Ward == 0 || t.ask.Ward == d.Ward) {
			t.count(t.slotOf(d), d.no).add(d, a.At)
		}
		if o := clip(d.overdue(), line.Stretch{From: t.ask.Period.From, Until: until}); o.From < o.Until {
			t.overdue = joined(append(t.overdue, o))
		}
	}
	if len(t.overdue) == 0 {
		return
	}
	no, l := duties[0].no, a.History.LineOf(duties[0].Line)
	t.silent = t.book.silences(t.silent[:0], l)
	for _, o := range t.overdue {
		uncoveredParts(&a.History, o, answer{ruleTags[no], l.Key, dutyCover}, func(part line.Stretch) { t.addMinutes(a, no, part) })
	}
}

// add counts one duty whose due moment is reached.
func (c *Count) add(d *Duty, at line.Minute) {
	if d.Line != c.current {
		c.closeLine()
		c.current = d.Line
		c.Lines++
	}
	switch d.How {
	case MetInTime:
		c.MetInTime++
		c.met++
		c.done++
		c.MetBy[d.MetBy]++
	case MetLate:
		c.MetLate++
		c.done++
		c.MetBy[d.MetBy]++
	case Missed:
		c.Missed++
		c.done++
	case Open:
		c.Open++
	case Accepted:
		c.Accepted++
	case NotSeen:
		c.NotSeen++
	}
	if d.How == MetLate || d.How == Missed || d.How == Open {
		c.Late = append(c.Late, min(d.Ended, at)-d.Due)
		if d.Ended > at {
			c.Unfinished++
		}
	}
}

// closeLine takes the current line into the clusters.
func (c *Count) closeLine() {
	if c.done > 0 {
		c.Clusters.N++
		c.Clusters.MetMet += c.met * c.met
		c.Clusters.MetOf += c.met * c.done
		c.Clusters.OfOf += c.done * c.done
	}
	c.current, c.met, c.done = 0, 0, 0
}

// addMinutes gives each overdue minute to the ward, shift and weekday at that
// minute, and to the unaccounted where nobody had been heard of the line.
func (t *Tally) addMinutes(a *Assessment, no ruleNo, part line.Stretch) {
	for at := part.From; at < part.Until; {
		ward, until := wardFrom(&a.History, at)
		if t.ask.Ward != 0 && t.ask.Ward != ward {
			at = until
			continue
		}
		slot, slotUntil := t.slotAt(ward, at)
		until = min(until, slotUntil, part.Until)
		c := t.count(slot, no)
		silent := line.Minute(0)
		for _, s := range t.silent {
			if both := clip(s, line.Stretch{From: at, Until: until}); both.From < both.Until {
				silent += both.Until - both.From
			}
		}
		c.Unaccounted += time.Duration(silent) * time.Minute
		c.Overdue += time.Duration(until-at-silent) * time.Minute
		at = until
	}
}

func (t *Tally) count(slot Slot, no ruleNo) *Count {
	counts := t.counts[slot]
	if counts == nil {
		counts = &[ruleCount]Count{}
		t.counts[slot] = counts
	}
	return &counts[no]
}

// Merge adds what another tally of the same question has counted; a patient
// must not be in both.
func (t *Tally) Merge(o *Tally) {
	for slot, counts := range o.counts {
		for no := range counts {
			t.count(slot, ruleNo(no)).merge(&counts[no])
		}
	}
	for slot, more := range o.found {
		t.found[slot] = t.found[slot].Plus(more)
	}
}

func (c *Count) merge(o *Count) {
	c.closeLine()
	o.closeLine()
	c.Lines += o.Lines
	c.MetInTime += o.MetInTime
	c.MetLate += o.MetLate
	c.Missed += o.Missed
	c.Open += o.Open
	c.Accepted += o.Accepted
	c.NotSeen += o.NotSeen
	for i := range c.MetBy {
		c.MetBy[i] += o.MetBy[i]
	}
	c.Overdue += o.Overdue
	c.Unaccounted += o.Unaccounted
	c.Late = append(c.Late, o.Late...)
	c.Unfinished += o.Unfinished
	c.Clusters.N += o.Clusters.N
	c.Clusters.MetMet += o.Clusters.MetMet
	c.Clusters.MetOf += o.Clusters.MetOf
	c.Clusters.OfOf += o.Clusters.OfOf
}

// Counts gives what was counted, by slot, then by rule; a rule without a duty
// and without an overdue minute in a slot is left out.
func (t *Tally) Counts() []Count {
	slots := make([]Slot, 0, len(t.counts))
	for slot := range t.counts {
		slots = append(slots, slot)
	}
	slices.SortFunc(slots, Slot.Compare)
	var list []Count
	for _, slot := range slots {
		for no := range t.counts[slot] {
			c := &t.counts[slot][no]
			c.closeLine()
			if c.Lines == 0 && c.Overdue == 0 && c.Unaccounted == 0 {
				continue
			}
			c.Rule, c.Slot = ruleIDs[no], slot
			slices.Sort(c.Late)
			list = append(list, *c)
		}
	}
	return list
}

// Unrecorded gives the lines found unrecorded, by slot.
func (t *Tally) Unrecorded() map[Slot]Unrecorded { return t.found }

// wardFrom is the ward that has the patient at the moment, else the last that
// had, and until when that is so.
func wardFrom(h *line.Subject, at line.Minute) (ward line.Key, until line.Minute) {
	until = line.Far
	for i := range h.Stays {
		s := &h.Stays[i]
		if s.From > at {
			return ward, s.From
		}
		ward = s.Ward
	}
	return ward, until
}

// silences are the stretches in which the line is in and nothing has been
// recorded about it for as long as the policy of the moment sets.
func (b *Rulebook) silences(list []line.Stretch, l *line.Line) []line.Stretch {
	heard := make([]line.Minute, 0, len(l.Touched)+len(l.LeftIn)+1)
	heard = append(append(heard, l.Placed), l.Touched...)
	for i := range l.LeftIn {
		heard = append(heard, l.LeftIn[i].At)
	}
	slices.Sort(heard)
	for i, at := range heard {
		next := l.Out
		if i+1 < len(heard) {
			next = min(next, heard[i+1])
		}
		for _, p := range b.policies {
			quiet := clip(line.Stretch{From: at.Add(p.stillInAfter), Until: next}, p.Stretch)
			if quiet.From < quiet.Until {
				list = append(list, quiet)
			}
		}
	}
	return list
}
