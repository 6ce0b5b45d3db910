package outcomes

import (
	"errors"

	"dwellbook/internal/line"
	"dwellbook/internal/stats"
)

// CaseMix is how often trials fail in the hospital as a whole, by where they
// were made, with what, and how hard the vein was.
type CaseMix struct {
	Trials, Failed int // on which it stands
	LeftOut        int // trials in levels with too few failures
	coding         coding
	fit            *stats.LogisticFit
	unit           Unit
}

// FitCaseMix fits a logistic regression on site, gauge and difficulty of the
// hospital's own attempts, everybody's. The error is one of
// stats.FitLogistic's refusals: too few failures, or nothing to compare.
func FitCaseMix(tried []line.Tried, u Unit) (*CaseMix, error) {
	trials := u.of(tried)
	m := &CaseMix{unit: u}
	group := func(i int, b By) Name { return mixed(trials[i])(b) }
	m.coding = newCoding([]By{BySite, ByGauge, ByDifficulty}, len(trials), group, func(i int) bool { return trials[i].Failed })
	var rows []stats.LogisticRow
	for _, t := range trials {
		covariates, ok := m.coding.covariates(mixed(t))
		if !ok {
			m.LeftOut++
			continue
		}
		rows = append(rows, stats.LogisticRow{Failed: t.Failed, Covariates: covariates})
		if m.Trials++; t.Failed {
			m.Failed++
		}
	}
	var err error
	m.fit, err = stats.FitLogistic(rows)
	return m, err
}

// TooFew reports whether err says that a record is too small, or too uniform, to
// fit a case mix to.
func TooFew(err error) bool {
	var few *stats.TooFewEventsError
	return errors.As(err, &few) || errors.Is(err, stats.ErrRows) || errors.Is(err, stats.ErrCollinear) ||
		errors.Is(err, stats.ErrSeparated) || errors.Is(err, stats.ErrNotConverged)
}

// mixed is the group of an attempt under each grouping of a case mix.
func mixed(t line.Tried) func(b By) Name {
	return func(b By) Name {
		name, _ := b.groupOfTried(t, Names{})
		return name
	}
}

// Expected is an operator's failures against those that the hospital as a whole
// would have had in the same trials.
type Expected struct {
	Trials   int
	Failed   int
	Failures float64 // expected
	LeftOut  int     // trials of a kind too rare in the hospital to be compared
	// Ratio of the failures to those expected: below 1, fewer than expected.
	// Interval is the exact one of a Poisson count, a little wider than it need be.
	Ratio    float64
	Interval stats.Interval
}

// Expected compares a record with the case mix.
func (m *CaseMix) Expected(r *Record) Expected {
	var e Expected
	for _, t := range r.Trials(m.unit) {
		covariates, ok := m.coding.covariates(mixed(t))
		if !ok {
			e.LeftOut++
			continue
		}
		e.Failures += m.fit.Probability(covariates)
		if e.Trials++; t.Failed {
			e.Failed++
		}
	}
	ratio := stats.Rate{Events: e.Failed, Exposure: e.Failures}
	e.Ratio, e.Interval = ratio.Estimate(), ratio.Interval(Confidence)
	return e
}

// Tells reports whether there are enough trials, 10, and failures to be
// expected of them, 5, to compare (house rules).
func (e Expected) Tells() bool { return e.Trials >= few && e.Failures >= fewExpected }

const fewExpected = 5

// Reading says whether there were more or fewer failures than expected, on how
// much of the hospital's record.
func (m *CaseMix) Reading(e Expected) []line.Message {
	if !e.Tells() {
		return []line.Message{line.Say("learning.expected.few", "n", few, "failures", fewExpected)}
	}
	key := "learning.expected.alike"
	switch {
	case e.Interval.Upper < 1:
		key = "learning.expected.fewer"
	case e.Interval.Lower > 1:
		key = "learning.expected.more"
	}
	return []line.Message{
		line.Say(key, "failed", e.Failed, "expected", line.Number(e.Failures), "units", m.unit.Plural(), "n", e.Trials,
			"ratio", line.Number(e.Ratio), "lower", line.Number(e.Interval.Lower), "upper", line.Number(e.Interval.Upper)),
		line.Say("learning.expected.basis", "units", m.unit.Plural(), "n", m.Trials, "failed", m.Failed),
	}
}
