package outcomes

import (
	"math"

	"dwellbook/internal/line"
	"dwellbook/internal/stats"
)

// ReadCauses says what ended the lines by an hour of dwell: the commonest
// failure, and how many came out without one.
func (g *Group) ReadCauses(hours float64) []line.Message {
	if g.Lines < fewLines {
		return []line.Message{line.Say("outcomes.read.few-lines", "n", fewLines)}
	}
	most, share, without := line.Reason(0), stats.Share{}, 0.0
	for _, r := range Ends {
		at := g.Incidence.At(stats.Ending(r), hours)
		switch {
		case math.IsNaN(at.Estimate):
			return []line.Message{line.Say("outcomes.read.causes-early", "hours", line.Hours(hours))}
		case !line.Fails(r):
			without += at.Estimate
		case at.Estimate > share.Estimate:
			most, share = r, at
		}
	}
	if most == 0 {
		return []line.Message{line.Say("outcomes.read.no-failure", "hours", line.Hours(hours), "without", line.Share(without), "n", g.Lines)}
	}
	i := share.Interval(stats.LogLog, Confidence)
	says := []line.Message{line.Say("outcomes.read.causes", "hours", line.Hours(hours), "reason", most, "share", line.Share(share.Estimate),
		"interval", between(i, func(v float64) any { return line.Share(v) }), "without", line.Share(without), "n", g.Lines)}
	if i.Upper > wide*i.Lower {
		says = append(says, line.Say("outcomes.read.wide"))
	}
	return says
}

// ReadCause says whether the groups differ in how many of their lines end for the
// reasons, by Gray's test, where there are groups to compare.
func (c *Courses) ReadCause(cause any, reasons ...line.Reason) []line.Message {
	cohorts := make([]*stats.Cohort, len(c.Groups))
	for i := range c.Groups {
		cohorts[i] = c.Groups[i].Cohort
	}
	endings := make([]stats.Ending, len(reasons))
	for i, r := range reasons {
		endings[i] = stats.Ending(r)
	}
	test, err := stats.Gray(cohorts, endings...)
	if err != nil || len(c.Groups) < 2 {
		return nil // one group, or nothing ended so: there is nothing to compare
	}
	key := "outcomes.read.cause-alike"
	if test.P < significant {
		key = "outcomes.read.cause-differ"
	}
	return []line.Message{line.Say(key, "cause", cause, "p", line.PValue(test.P)), line.Say("outcomes.read.mix." + c.By.String())}
}

// Reading says which groups lie outside their limits; labels are theirs.
func (f *Funnel) Reading(labels []any) []line.Message {
	if f == nil {
		return []line.Message{line.Say("outcomes.read.no-funnel")}
	}
	var says []line.Message
	wards := 0
	for i, p := range f.Points {
		if f.Rates[i].Exposure > 0 {
			wards++
		}
		key := ""
		switch {
		case p.BeyondAction():
			key = "action"
		case p.BeyondWarning():
			key = "warning"
		default:
			continue
		}
		side := "high-"
		if p.Value < f.Target {
			side = "low-"
		}
		says = append(says, line.Say("outcomes.read.funnel."+side+key, "group", labels[i], "rate", line.Number(p.Value), "all", line.Number(f.Target)))
	}
	if len(says) == 0 {
		says = append(says, line.Say("outcomes.read.funnel-inside", "n", wards, "all", line.Number(f.Target)))
	}
	if f.Widened > 1 {
		says = append(says, line.Say("outcomes.read.funnel-widened", "times", line.Number(f.Widened)))
	}
	return append(says, line.Say("outcomes.read.mix.ward"))
}

// ReadRates compares the first of some groups, the one with the highest rate,
// with the others together.
func ReadRates(rates []stats.Rate, labels []any) []line.Message {
	var rest stats.Rate
	for _, r := range rates[min(1, len(rates)):] {
		rest.Events, rest.Exposure = rest.Events+r.Events, rest.Exposure+r.Exposure
	}
	switch {
	case len(rates) == 0 || !(rates[0].Exposure > 0):
		return []line.Message{line.Say("outcomes.read.none")}
	case rates[0].Events+rest.Events == 0:
		return []line.Message{line.Say("outcomes.read.rates-none")}
	case !(rest.Exposure > 0):
		i := rates[0].Interval(Confidence)
		return []line.Message{line.Say("outcomes.read.rates-one", "rate", line.Number(rates[0].Estimate()), "lower", line.Number(i.Lower), "upper", line.Number(i.Upper))}
	}
	compared := stats.CompareRates(rates[0], rest, Confidence)
	rate := line.Number(rates[0].Estimate())
	highest := line.Say("outcomes.read.rates-highest", "group", labels[0], "rate", rate, "rest", line.Number(rest.Estimate()),
		"ratio", line.Number(compared.Ratio), "lower", line.Number(compared.Exact.Lower), "upper", line.Number(compared.Exact.Upper))
	if rest.Events == 0 { // no ratio
		highest = line.Say("outcomes.read.rates-alone", "group", labels[0], "rate", rate, "n", rates[0].Events)
	}
	chance := "outcomes.read.rates-alike"
	// The highest of several is picked by its height: each could have been it.
	if compared.Exact.Lower > 1 && compared.P.Central*float64(len(rates)) < significant {
		chance = "outcomes.read.rates-differ"
	}
	return []line.Message{highest, line.Say(chance, "n", len(rates))}
}

// Reading says whether the event came more or less often than is usual here.
func (w *Watched) Reading() []line.Message {
	switch {
	case w.Rates == nil && w.Gaps == nil:
		return []line.Message{line.Say("outcomes.read.chart-none", "n", w.Events, "event", w.Event)}
	case w.Few():
		return []line.Message{line.Say("outcomes.read.chart-few", "n", fewPoints)}
	}
	var says []line.Message
	if w.Rates != nil {
		says = append(says, line.Say("outcomes.read.chart-rates", "event", w.Event, "rate", line.Number(w.Rates.Center), "n", w.Events))
	} else {
		says = append(says, line.Say("outcomes.read.chart-gaps", "event", w.Event, "gap", line.Number(w.Gaps.Center), "n", w.Events))
	}
	if len(w.Signals) == 0 {
		return append(says, line.Say("outcomes.read.chart-calm"))
	}
	key := "outcomes.read.chart-signals"
	if w.Gaps != nil { // a gap can only be unusually long
		key = "outcomes.read.chart-far-between"
	}
	return append(says, line.Say(key, "n", len(w.signalled())))
}

// signalled are the points at which a rule holds, each once.
func (w *Watched) signalled() map[int]bool {
	at := map[int]bool{}
	for _, s := range w.Signals {
		at[s.At] = true
	}
	return at
}
