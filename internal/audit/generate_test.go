package audit_test

import (
	"slices"
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

// near is a moment a little after one already drawn, so that allowances are
// met to the minute, or else any moment.
func (h *history) near(label string) line.Minute {
	after := pick(h.t, label+" after", -1, 0, 1, 30, 59, 60, 61, 90, 119, 120, 240, 720, 1440, 1440, 2880, 5760)
	if after < 0 || rapid.Bool().Draw(h.t, label+" any") {
		return h.moment(label)
	}
	last := h.marks[rapid.IntRange(0, len(h.marks)-1).Draw(h.t, label+" mark")].At
	return min(last+line.Minute(after), h.start+generatedSpan)
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
		h.add(line.Mark{Kind: kind, At: h.near("moved"), Ward: pick(t, "to", wardA, wardB, wardC)})
	}
	for i := range rapid.IntRange(1, 3).Draw(t, "lines") {
		h.line(line.Key(101+i), gone, vague)
	}
	for range rapid.IntRange(0, 3).Draw(t, "facts") {
		h.fact()
	}
	h.leaveIn()
	return h
}

// leaveIn lets discharges name lines left in on purpose.
func (h *history) leaveIn() {
	for _, m := range slices.Clone(h.marks) {
		for _, key := range []line.Key{101, 102} {
			if m.Kind == line.KindDischarge && rapid.IntRange(0, 2).Draw(h.t, "left in") == 0 {
				left := m
				left.Line, left.Part, left.Flags = key, int(key-100), line.LeftIn
				h.marks = append(h.marks, left)
			}
		}
	}
}

func (h *history) line(key line.Key, gone, vague bool) {
	t := h.t
	placed, precision := h.moment("placed"), line.ToMinute
	if rapid.Bool().Draw(t, "early") {
		placed = h.start + (placed-h.start)%(24*60)
	}
	if vague {
		precision = pick(t, "placed to", line.ToMinute, line.ToMinute, line.ToDay, line.NotKnown)
	}
	detail := line.Detail{
		Outcome: line.WithLine, Site: pick(t, "site", line.Site(0).All()...), Side: pick(t, "side", 0, line.Left, line.Right),
		Gauge: pick(t, "gauge", 0, line.Gauge(16), line.Gauge(20)), Asepsis: pick(t, "asepsis", line.AsepsisFull, line.AsepsisNotFull, line.AsepsisNotKnown),
		PlacedBy: pick(t, "placed by", 0, line.OwnStaff, line.Ambulance, line.OtherHospital), Flush: pick(t, "flush", 0, line.FlushEasy),
		Material: pick(t, "dressing", 0, line.Film, line.Gauze, line.OtherDressing), Score: line.NoScore,
	}
	h.add(line.Mark{Kind: line.KindOccasion, Line: key, At: placed, Precision: precision, Detail: detail})
	for range rapid.IntRange(0, 12).Draw(t, "entries") {
		h.about(key, vague)
	}
	if rapid.Bool().Draw(t, "out") {
		reason := pick(t, "reason", line.NotNeeded, line.Phlebitis, line.Infiltration, line.Extravasation, line.InfectionSuspected)
		if gone && rapid.IntRange(0, 3).Draw(t, "gone") == 0 {
			reason = line.FoundGone
		}
		h.add(line.Mark{Kind: line.KindRemoval, Line: key, At: max(placed, h.near("removed")), Detail: line.Detail{Reason: reason}})
		for range rapid.IntRange(0, 4).Draw(t, "checks") {
			h.add(line.Mark{Kind: line.KindSiteCheck, Line: key, At: h.near("checked"), Detail: line.Detail{Score: line.NoScore}})
		}
	}
}

func (h *history) about(key line.Key, vague bool) {
	t := h.t
	m := line.Mark{Line: key, At: h.near("at"), Detail: line.Detail{Score: line.NoScore}}
	if vague && rapid.IntRange(0, 9).Draw(t, "vague") == 0 {
		m.Precision = line.ToDay
	}
	switch pick(t, "entry", 0, 0, 0, 0, 1, 2, 3) {
	case 0:
		m.Kind = line.KindReview
		m.Needed, m.Used = pick(t, "needed", 0, line.Yes, line.No), pick(t, "used", 0, line.Yes, line.No)
		m.States = line.SetOf(pick(t, "state", line.Intact, line.Intact, line.Intact, line.Loose, line.Damp, line.Soiled, line.Lifted))
		m.Flush = pick(t, "flush", 0, line.FlushEasy, line.FlushEasy, line.FlushStiff, line.FlushNone)
		m.Signs = h.signs()
		m.Score, m.Flags = int8(line.ScoreOf(m.Signs)), line.ScoreFromSigns
		if rapid.IntRange(0, 5).Draw(t, "given") == 0 {
			m.Score, m.Flags = int8(pick(t, "score", 0, 1, 2, 3)), 0
		}
	case 1:
		m.Kind, m.Absence = line.KindNotSeen, line.OffWard
		if rapid.Bool().Draw(t, "returns") {
			m.Until = m.At + line.Minute(rapid.IntRange(0, 600).Draw(t, "back"))
		}
	case 2:
		m.Kind, m.Material = line.KindDressing, pick(t, "material", 0, line.Film, line.Gauze, line.OtherDressing)
	case 3:
		m.Kind, m.RuleTag = line.KindJustification, pick(t, "rule", append(walkedRules, audit.ReviewOverdue, audit.ReviewOverdue, audit.LimbRestricted)...).Tag()
		m.Until = m.At + line.Minute(rapid.IntRange(1, 2000).Draw(t, "until"))
	}
	h.add(m)
}

// signs are mostly none; else one, or several.
func (h *history) signs() line.Signs {
	t := h.t
	switch pick(t, "signs", 0, 0, 0, 0, 0, 1, 2) {
	case 1:
		return line.SetOf(pick(t, "sign", line.Sign(0).All()...))
	case 2:
		return line.Signs(0).With(pick(t, "sign", line.Pain, line.Redness, line.Cord)).With(pick(t, "other sign", line.Swelling, line.Induration, line.Fever)).
			With(pick(t, "third sign", line.Pain, line.Redness, line.SiteLeak))
	}
	return 0
}

func (h *history) fact() {
	t := h.t
	m := line.Mark{Kind: line.KindFacts, At: h.near("fact")}
	switch pick(t, "fact of", 0, 1, 1, 2, 3) {
	case 0:
		m.Group = pick(t, "group", line.Adult, line.Child)
	case 1:
		m.Watch = line.WatchIrritant
	case 2:
		m.Limb, m.Restriction = line.LeftArm, pick(t, "restriction", line.Fistula, line.DVT)
	case 3:
		m.NeedML, m.Purposes = pick[uint16](t, "need", 0, 125, 4200, 40000), line.SetOf(pick(t, "need for", line.ForFluids, line.ForBlood))
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
