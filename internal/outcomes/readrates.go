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
		at := g.Incidence.At(stats.Ending(r), hours*60)
		switch {
		case math.IsNaN(at.Estimate):
			return []line.Message{line.Say("outcomes.read.early")}
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
		"lower", line.Share(i.Lower), "upper", line.Share(i.Upper), "without", line.Share(without), "n", g.Lines)}
	if !(i.Upper <= wide*i.Lower) {
		says = append(says, line.Say("outcomes.read.wide"))
	}
	return says
}

// ReadFunnel says which groups lie outside their limits; labels are theirs.
func (f *Funnel) ReadFunnel(labels []any) []line.Message {
	if f == nil {
		return []line.Message{line.Say("outcomes.read.no-funnel")}
	}
	var says []line.Message
	for i, p := range f.Points {
		key := ""
		switch {
		case p.BeyondAction():
			key = "action"
		case p.BeyondWarning():
			key = "warning"
		default:
			continue
		}
		side := "-high-"
		if p.Value < f.Target {
			side = "-low-"
		}
		says = append(says, line.Say("outcomes.read.funnel"+side+key, "group", labels[i], "rate", line.Number(p.Value), "all", line.Number(f.Target)))
	}
	if len(says) == 0 {
		says = append(says, line.Say("outcomes.read.funnel-inside", "n", len(f.Points), "all", line.Number(f.Target)))
	}
	if f.Widened > 1 {
		says = append(says, line.Say("outcomes.read.funnel-widened", "times", line.Number(f.Widened)))
	}
	return append(says, line.Say("outcomes.read.mix-ward"))
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
	return append(says, line.Say("outcomes.read.chart-signals", "n", len(w.signalled())))
}

// signalled are the points at which a rule holds, each once.
func (w *Watched) signalled() map[int]bool {
	at := map[int]bool{}
	for _, s := range w.Signals {
		at[s.At] = true
	}
	return at
}
