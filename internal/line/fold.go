package line

import (
	"cmp"
	"slices"
)

// Subject is one patient's history as the marks tell it.
type Subject struct {
	Key        Key
	Stays      []Stay     // in order, not overlapping
	Lines      []*Line    // in order of placement
	Occasions  []Mark     // every occasion, with or without a line, in order
	Groups     []Mark     // adult or child, each from its At
	Limits     []Limited  // limbs to be spared
	Watches    []Watched  // closer watches
	Needs      []Mark     // flow needed, each from its At
	Justified  []Mark     // justifications: rule tag, line (0: of the patient), from At until Until
	Discharges []Mark     // part 0 only
	Conflicts  []Conflict // entries that cannot be true with the rest; they changed nothing
}

// Stay is a stretch of time in one ward.
type Stay struct {
	Ward Key
	Stretch
}

// Limited is a limb under a restriction for a stretch of time.
type Limited struct {
	Limb Limb
	Why  Restriction
	Stretch
}

// Watched is a closer watch for a stretch of time.
type Watched struct {
	Why Watch
	Stretch
}

// Line is one cannula's history.
type Line struct {
	Key       Key
	Placement Mark   // the occasion it came of
	Placed    Minute // where not known: when it was first seen
	Reviews   []Mark // in order
	NotSeen   []Mark
	Dressings []Mark    // new dressings after placement
	Checks    []Mark    // looks at the site after removal
	Infection Infection // what the infection-control lead found last
	Removal   *Mark     // nil while it is in
	Out       Minute    // when it came out; found gone: the last look, the last moment it was surely in; Far while in
	LeftIn    []Mark    // discharges at which it was left in on purpose
	Touched   []Minute  // every entry about it, for "no entry for 3 days"; in order
}

// Gone reports whether the line was found gone.
func (l *Line) Gone() bool { return l.Removal != nil && l.Removal.Reason == FoundGone }

// InSitu reports whether the line was in at the moment, as now known.
func (l *Line) InSitu(at Minute) bool { return l.Placed <= at && at < l.Out }

// LastLook is the last look before until: a review, else the placement. (A
// removal is a look too, but not of a line found gone.)
func (l *Line) LastLook(until Minute) Minute {
	last := l.Placed
	for _, r := range l.Reviews {
		if r.At < until {
			last = max(last, r.At)
		}
	}
	return last
}

// Why an entry is in conflict with the rest.
type Why uint8

// The conflicts.
const (
	BeforePlacement Why = iota + 1
	AfterRemoval
	UnknownLine
	SecondRemoval
	SecondPlacement
	BeforeRemoval // a site-check while the line is in
)

var whyNames = [...]string{"", "before-placement", "after-removal", "unknown-line", "second-removal", "second-placement", "before-removal"}

// Word is the key of the catalogue.
func (w Why) Word() string { return "conflict." + whyNames[w] }

// Conflict is an entry that cannot be true with the rest.
type Conflict struct {
	Mark Mark
	Why  Why
}

// Fold makes the history from the marks that stand, in any order.
func Fold(marks []Mark) Subject {
	marks = slices.Clone(marks)
	f := folder{lines: map[Key]*Line{}}
	for _, m := range marks {
		if m.Kind == KindOccasion && m.Outcome == WithLine {
			f.place(m)
		}
	}
	for i, m := range marks {
		// A date-only moment is the day's start, but not before the placement.
		if l := f.lines[m.Line]; l != nil && m.Precision == ToDay && m.Kind != KindOccasion {
			marks[i].At = max(m.At, l.Placed)
		}
	}
	slices.SortStableFunc(marks, inOrder)
	for _, m := range marks {
		f.take(m)
	}
	f.close()
	return f.Subject
}

func inOrder(a, b Mark) int {
	return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Seq, b.Seq), cmp.Compare(a.Part, b.Part))
}

type folder struct {
	Subject
	lines map[Key]*Line
}

// place notes a line's placement: of two for one line the one recorded first holds.
func (f *folder) place(m Mark) {
	if l := f.lines[m.Line]; l != nil && l.Placement.Seq <= m.Seq {
		return
	}
	f.lines[m.Line] = &Line{Key: m.Line, Placement: m, Placed: m.At, Out: Far}
}

func (f *folder) take(m Mark) {
	f.Key = m.Subject
	switch m.Kind {
	case KindAdmission, KindTransfer:
		f.move(m)
	case KindDischarge:
		f.discharge(m)
	case KindOccasion:
		f.occasion(m)
	case KindFacts:
		f.facts(m)
	case KindJustification:
		f.Justified = append(f.Justified, m)
		f.touch(m)
	case KindNotSeen:
		f.notSeen(m)
	default:
		f.onLine(m)
	}
}

func (f *folder) move(m Mark) {
	f.leave(m.At)
	f.Stays = append(f.Stays, Stay{Ward: m.Ward, Stretch: Stretch{m.At, Far}})
}

// leave ends the stay that is open; one of no length is dropped.
func (f *folder) leave(at Minute) {
	n := len(f.Stays)
	if n == 0 || f.Stays[n-1].Until != Far {
		return
	}
	f.Stays[n-1].Until = at
	if f.Stays[n-1].From >= at {
		f.Stays = f.Stays[:n-1]
	}
}

func (f *folder) discharge(m Mark) {
	if m.Flags.Has(LeftIn) {
		if l := f.lines[m.Line]; l != nil {
			l.LeftIn = append(l.LeftIn, m)
			return
		}
		f.conflict(m, UnknownLine)
		return
	}
	f.leave(m.At)
	f.Discharges = append(f.Discharges, m)
}

func (f *folder) occasion(m Mark) {
	l := f.lines[m.Line]
	if m.Outcome == WithLine && l.Placement != m {
		f.conflict(m, SecondPlacement)
		return
	}
	f.Occasions = append(f.Occasions, m)
	if m.Outcome == WithLine {
		f.Lines = append(f.Lines, l)
		f.touch(m)
	}
}

func (f *folder) facts(m Mark) {
	until := m.Until
	if until == 0 {
		until = Far
	}
	switch {
	case m.Group != 0:
		f.Groups = append(f.Groups, m)
	case m.NeedML != 0:
		f.Needs = append(f.Needs, m)
	case m.Limb != 0 && m.Flags.Has(Ends):
		for i := range f.Limits {
			if l := &f.Limits[i]; l.Limb == m.Limb && l.Why == m.Restriction {
				l.Until = min(l.Until, m.At)
			}
		}
	case m.Limb != 0:
		f.Limits = append(f.Limits, Limited{m.Limb, m.Restriction, Stretch{m.At, until}})
	case m.Watch != 0 && m.Flags.Has(Ends):
		for i := range f.Watches {
			if w := &f.Watches[i]; w.Why == m.Watch {
				w.Until = min(w.Until, m.At)
			}
		}
	case m.Watch != 0:
		f.Watches = append(f.Watches, Watched{m.Watch, Stretch{m.At, until}})
	}
}

// notSeen without a line is of every line that is in at that moment.
func (f *folder) notSeen(m Mark) {
	if m.Line != 0 {
		f.onLine(m)
		return
	}
	for _, l := range f.Lines {
		if l.Removal == nil {
			l.NotSeen = append(l.NotSeen, m)
			l.Touched = append(l.Touched, m.At)
		}
	}
}

// onLine takes the entries that are about one line.
func (f *folder) onLine(m Mark) {
	l := f.lines[m.Line]
	switch {
	case l == nil && m.Kind == KindFollowUp && f.tried(m.Line):
		return // of an occasion that ended without a line; it changes nothing
	case l == nil:
		f.conflict(m, UnknownLine)
		return
	}
	if why := l.refuses(m); why != 0 {
		f.conflict(m, why)
		return
	}
	f.touch(m)
	switch m.Kind {
	case KindReview:
		l.Reviews = append(l.Reviews, m)
	case KindNotSeen:
		l.NotSeen = append(l.NotSeen, m)
	case KindDressing:
		l.Dressings = append(l.Dressings, m)
	case KindSiteCheck:
		l.Checks = append(l.Checks, m)
	case KindRemoval:
		l.Removal = &m
	case KindInfection:
		l.Infection = m.Infection
	}
}

// tried reports whether there was an occasion under the key so far.
func (f *folder) tried(key Key) bool {
	return slices.ContainsFunc(f.Occasions, func(m Mark) bool { return m.Line == key })
}

// refuses says why an entry about the line cannot be true, given those before it.
func (l *Line) refuses(m Mark) Why {
	p := l.Placement
	switch {
	case m.At < l.Placed || m.At == l.Placed && m.Seq < p.Seq && m.Precision != ToDay:
		return BeforePlacement
	case m.Kind == KindInfection || m.Kind == KindFollowUp:
		return 0
	case m.Kind == KindSiteCheck:
		if l.Removal == nil {
			return BeforeRemoval
		}
		return 0
	case l.Removal != nil && m.Kind == KindRemoval:
		return SecondRemoval
	case l.Removal != nil:
		return AfterRemoval
	}
	return 0
}

func (f *folder) touch(m Mark) {
	if l := f.lines[m.Line]; l != nil {
		l.Touched = append(l.Touched, m.At)
	}
}

func (f *folder) conflict(m Mark, why Why) { f.Conflicts = append(f.Conflicts, Conflict{m, why}) }

// close settles what only the whole list tells: when each line came out.
func (f *folder) close() {
	for _, l := range f.Lines {
		switch {
		case l.Gone():
			l.Out = l.LastLook(l.Removal.At + 1)
		case l.Removal != nil:
			l.Out = l.Removal.At
		}
	}
}
