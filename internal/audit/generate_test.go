package audit_test

import (
	"time"

	"pgregory.net/rapid"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// The generated hospital: two wards with different shift times, one of them
// with a boundary inside the hour of the clock changes, and a clock ward.
const (
	wardA line.Key = 1 + iota
	wardB
	wardC
)

var london = func() *time.Location {
	zone, err := time.LoadLocation("Europe/London")
	if err != nil {
		panic(err)
	}
	return zone
}()

var shiftsOf = map[line.Key][]line.ShiftTime{wardA: {450, 1170}, wardB: {90, 420, 900, 1380}}

const (
	clockEvery = 8 * time.Hour
	watchEvery = 4 * time.Hour
)

func generatedBook() *audit.Rulebook {
	p, err := audit.ParsePolicy("generated", []byte("[review-overdue.closer_watch]\nirritant-running = \"4h\"\n"))
	if err != nil {
		panic(err)
	}
	return audit.NewRulebook([]audit.Change{
		{From: -line.Far, Policy: p},
		{Ward: wardA, Values: audit.WardValues{Zone: london, Shifts: shiftsOf[wardA]}},
		{Ward: wardB, Values: audit.WardValues{Zone: london, Shifts: shiftsOf[wardB]}},
		{Ward: wardC, Values: audit.WardValues{Zone: london, Every: clockEvery}},
	})
}

// starts are some days before each clock change and in plain winter.
var starts = []time.Time{
	time.Date(2026, 10, 22, 6, 0, 0, 0, time.UTC), time.Date(2026, 3, 26, 6, 0, 0, 0, time.UTC), time.Date(2026, 1, 12, 6, 0, 0, 0, time.UTC),
}

const generatedSpan = 8 * 24 * 60 // minutes in which entries happen

// history draws a patient's marks: plausible in outline, with contradictions
// now and then. Moments cluster, so that equal ones and edges are met.
type history struct {
	t     *rapid.T
	start line.Minute
	seq   int64
	marks []line.Mark
}

func (h *history) add(m line.Mark) {
	h.seq++
	m.Subject, m.Seq, m.Known = 1, h.seq, h.seq
	if m.Precision == 0 {
		m.Precision = line.ToMinute
	}
	h.marks = append(h.marks, m)
}

func (h *history) moment(label string) line.Minute {
	at := rapid.IntRange(0, generatedSpan).Draw(h.t, label)
	if rapid.IntRange(0, 2).Draw(h.t, label+" round") > 0 {
		at -= at % 30 // on the half hour, where boundaries are
	}
	return h.start + line.Minute(at)
}

func pick[T any](t *rapid.T, label string, from ...T) T {
	return rapid.SampledFrom(from).Draw(t, label)
}

// drawHistory draws a history; gone allows lines to be found gone, vague
// allows moments of which only the day is known.
func drawHistory(t *rapid.T, gone, vague bool) *history {
	h := &history{t: t, start: line.MinuteOf(pick(t, "start", starts...))}
	h.add(line.Mark{Kind: line.KindAdmission, At: h.start, Ward: pick(t, "ward", wardA, wardB, wardC)})
	for range rapid.IntRange(0, 3).Draw(t, "moves") {
		kind := pick(t, "move", line.KindTransfer, line.KindTransfer, line.KindDischarge, line.KindAdmission)
		h.add(line.Mark{Kind: kind, At: h.moment("moved"), Ward: pick(t, "to", wardA, wardB, wardC)})
	}
	for i := range rapid.IntRange(1, 3).Draw(t, "lines") {
		h.line(line.Key(101+i), gone, vague)
	}
	for range rapid.IntRange(0, 3).Draw(t, "facts") {
		h.fact()
	}
	return h
}

func (h *history) line(key line.Key, gone, vague bool) {
	t := h.t
	placed := h.moment("placed")
	detail := line.Detail{
		Outcome: line.WithLine, Site: pick(t, "site", line.Site(0).All()...), Side: pick(t, "side", 0, line.Left, line.Right),
		Gauge: pick(t, "gauge", 0, line.Gauge(16), line.Gauge(20)), Asepsis: pick(t, "asepsis", line.AsepsisFull, line.AsepsisNotFull),
		Material: pick(t, "dressing", 0, line.Film, line.Gauze, line.OtherDressing), Score: line.NoScore,
	}
	h.add(line.Mark{Kind: line.KindOccasion, Line: key, At: placed, Detail: detail})
	for range rapid.IntRange(0, 12).Draw(t, "entries") {
		h.about(key, vague)
	}
	if rapid.Bool().Draw(t, "out") {
		reason := pick(t, "reason", line.NotNeeded, line.Phlebitis, line.Infiltration)
		if gone && rapid.IntRange(0, 3).Draw(t, "gone") == 0 {
			reason = line.FoundGone
		}
		h.add(line.Mark{Kind: line.KindRemoval, Line: key, At: max(placed, h.moment("removed")), Detail: line.Detail{Reason: reason}})
		h.add(line.Mark{Kind: line.KindSiteCheck, Line: key, At: h.moment("checked")})
	}
}

func (h *history) about(key line.Key, vague bool) {
	t := h.t
	m := line.Mark{Line: key, At: h.moment("at"), Detail: line.Detail{Score: line.NoScore}}
	if vague && rapid.IntRange(0, 9).Draw(t, "vague") == 0 {
		m.Precision = line.ToDay
	}
	switch pick(t, "entry", 0, 0, 0, 0, 1, 2, 3) {
	case 0:
		m.Kind = line.KindReview
		m.Score = int8(pick(t, "score", 0, 0, 0, 0, 2))
		m.Needed, m.Used = pick(t, "needed", 0, line.Yes, line.No), pick(t, "used", 0, line.Yes, line.No)
		m.States = line.SetOf(pick(t, "state", line.Intact, line.Intact, line.Loose, line.Lifted))
		m.Signs = line.SetOf(pick(t, "sign", 0, 0, 0, line.Swelling, line.SiteLeak, line.ExtravasationSuspected))
	case 1:
		m.Kind, m.Absence = line.KindNotSeen, line.OffWard
		if rapid.Bool().Draw(t, "returns") {
			m.Until = m.At + line.Minute(rapid.IntRange(0, 600).Draw(t, "back"))
		}
	case 2:
		m.Kind, m.Material = line.KindDressing, pick(t, "material", 0, line.Film, line.Gauze)
	case 3:
		m.Kind, m.RuleTag = line.KindJustification, pick(t, "rule", audit.ReviewOverdue, audit.NeedDaily, audit.LimbRestricted).Tag()
		m.Until = m.At + line.Minute(rapid.IntRange(1, 2000).Draw(t, "until"))
	}
	h.add(m)
}

func (h *history) fact() {
	t := h.t
	m := line.Mark{Kind: line.KindFacts, At: h.moment("fact")}
	switch pick(t, "fact of", 0, 1, 1, 2) {
	case 0:
		m.Group = pick(t, "group", line.Adult, line.Child)
	case 1:
		m.Watch = line.WatchIrritant
	case 2:
		m.Limb, m.Restriction = line.LeftArm, pick(t, "restriction", line.Fistula, line.DVT)
	}
	switch pick(t, "ends", 0, 1, 2) {
	case 1:
		m.Until = m.At + line.Minute(rapid.IntRange(1, 3000).Draw(t, "until"))
	case 2:
		m.Flags = line.Ends
	}
	h.add(m)
}

// upTo are the marks that had happened by a moment.
func (h *history) upTo(at line.Minute) []line.Mark {
	var marks []line.Mark
	for _, m := range h.marks {
		if m.At <= at {
			marks = append(marks, m)
		}
	}
	return marks
}
