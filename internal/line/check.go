package line

import (
	"slices"
	"time"
)

// ClockTolerance is how far ahead of the record's clock an entry may lie.
const ClockTolerance = 2 * time.Minute

// Earliest is the first moment an entry may be of: before it, a year was
// mistyped. A house rule.
var Earliest = MinuteOf(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC))

// LongestShortCannula is the length in millimetres above which a cannula is
// asked about: longer ones are midlines, which this record is not for.
const LongestShortCannula = 60

// Problem is one thing in an entry that cannot be true or is missing.
type Problem struct {
	Field   string // as in the entry's JSON
	Message Message
}

// Check finds what is wrong with an entry by itself, before any other is
// looked at. now is the record's clock.
func Check(e Entry, now Minute) []Problem {
	var c checker
	_, err := ParseID(string(e.ID))
	c.need(err == nil, "id", "check.id")
	c.need(e.Author != "", "author", "check.author")
	c.need(e.Body != nil && e.Body.Kind() == e.Kind, "body", "check.body")
	c.need(houseKind(e.Kind) || e.Subject != "", "subject", "check.subject")
	c.need(!lineKind(e.Kind) || e.Line != "", "line", "check.line")
	c.need(e.Precision != 0, "precision", "check.precision")
	c.need(houseKind(e.Kind) || e.Happened <= now.Add(ClockTolerance), "happened", "check.future", "happened", e.Happened)
	c.need(e.Happened >= Earliest, "happened", "check.early", "happened", e.Happened, "earliest", Earliest)
	switch b := e.Body.(type) {
	case Admission:
		c.need(b.Ward != "", "ward", "check.ward")
	case Transfer:
		c.need(b.Ward != "", "ward", "check.ward")
	case Occasion:
		c.occasion(b)
	case Review:
		c.score(b.Score)
		c.need(b.Dressing == 0 || !b.Dressing.Has(Intact) || b.Dressing == SetOf(Intact), "dressing", "check.intact-and-not")
		c.need(b.KeepUntil == 0 || b.KeepUntil > e.Happened, "keep_until", "check.end-before-start")
	case NotSeen:
		c.need(b.Why != 0, "why", "check.not-seen")
		c.need(b.Returns == 0 || b.Returns >= e.Happened, "returns", "check.end-before-start")
	case Removal:
		c.need(b.Reason != 0, "reason", "check.removal-reason")
		c.score(b.Score)
	case SiteCheck:
		c.score(b.Score)
	case Facts:
		for _, l := range b.Limits {
			c.need(l.Limb != 0 && l.Why != 0, "limits", "check.limit")
			c.need(l.Until == 0 || l.Until > e.Happened, "limits", "check.end-before-start")
		}
	case Justification:
		c.justification(b, e.Happened)
	case InfectionOutcome:
		c.need(b.Outcome != 0, "outcome", "check.infection")
	case AttemptAgreement:
		c.need(b.Account != "", "account", "check.account")
		c.need(b.Version != "", "version", "check.root")
		c.need(b.Agreed != 0, "agreed", "check.agreed")
	case RecordShare:
		c.need(b.Share != "", "share", "check.id")
		c.need(b.Account != "", "account", "check.account")
		c.need(b.With != "" && b.With != b.Account, "with", "check.share-with")
	case Correction:
		c.need(b.Root != "", "root", "check.root")
		c.need(b.Why != "", "why", "check.why")
		for _, p := range Check(b.Replacement, now) {
			c.problems = append(c.problems, Problem{"replacement." + p.Field, p.Message})
		}
	case Void:
		c.need(b.Root != "", "root", "check.root")
		c.need(b.Why != "", "why", "check.why")
	}
	return c.problems
}

type checker struct{ problems []Problem }

func (c *checker) need(ok bool, field, key string, args ...any) {
	if !ok {
		c.problems = append(c.problems, Problem{field, Say(key, args...)})
	}
}

func (c *checker) score(s *int) {
	c.need(s == nil || *s >= 0 && *s <= 5, "score", "check.score")
}

func (c *checker) occasion(o Occasion) {
	c.need(o.Outcome != 0, "outcome", "check.outcome")
	c.need(o.Gauge == 0 || o.Gauge.Exists(), "gauge", "check.gauge")
	c.need(o.LengthMM >= 0 && o.LengthMM <= LongestShortCannula, "length_mm", "check.length", "most", LongestShortCannula)
	c.need(o.Count >= 0 && o.Count <= 20, "count", "check.count")
	c.need(len(o.Attempts) <= 20, "attempts", "check.count")
	ok := slices.IndexFunc(o.Attempts, func(a Attempt) bool { return !a.Failed })
	for _, a := range o.Attempts {
		c.need(a.Gauge == 0 || a.Gauge.Exists(), "attempts", "check.gauge")
		c.need(a.Failed || a.Fault == 0, "attempts", "check.fault-of-success")
		c.need(!a.Difficulty.Has(NotDifficult) || a.Difficulty == SetOf(NotDifficult), "attempts", "check.difficult-and-not")
	}
	switch o.Outcome {
	case WithLine:
		c.need(len(o.Attempts) == 0 || ok == len(o.Attempts)-1, "attempts", "check.last-attempt-failed")
	case WithoutLine:
		c.need(ok < 0, "attempts", "check.success-without-line")
	case BeforeSkin:
		c.need(len(o.Attempts) == 0 && o.Count == 0, "attempts", "check.attempt-before-skin")
		c.need(o.Stopped != 0, "stopped", "check.stopped")
	}
}

// LongestJustification is how long a duty may be answered at once; it can be renewed.
const LongestJustification = 24 * time.Hour

func (c *checker) justification(j Justification, happened Minute) {
	c.need(j.Rule != "", "rule", "check.rule")
	c.need(j.Why != "" || j.Unobtainable, "why", "check.why")
	c.need(j.Clinician != "" || j.Unobtainable, "clinician", "check.clinician")
	c.need(j.Unobtainable || j.Until > happened, "until", "check.justification-end")
}

func houseKind(k Kind) bool { return k >= KindPolicy || k == KindVoid || k == KindCorrection }

func lineKind(k Kind) bool {
	switch k {
	case KindOccasion, KindReview, KindDressing, KindRemoval, KindSiteCheck, KindInfection:
		return true
	}
	return false
}
