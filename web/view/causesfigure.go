package view

import (
	"cmp"
	"context"
	"math"
	"slices"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
	"dwellbook/internal/words"
	"dwellbook/web/chart"
)

// mostFailures and mostOthers are how many ends are told apart in one drawing;
// the rest of each are one area.
const (
	mostFailures = 5
	mostOthers   = 1
)

// readAt is the hour of dwell at which causes are told in words.
const readAt = 72

// CausesFigure draws what ended the lines of a group, stacked over time.
func CausesFigure(ctx context.Context, g *outcomes.Group, when string) ChartFigure {
	f := ChartFigure{
		Name: "ends", Title: words.Say(ctx, "outcomespage.ends"), Reading: g.ReadCauses(readAt),
		Numbers: Numbers{Caption: words.Say(ctx, "outcomespage.ends-numbers"), Head: say(ctx, "outcomespage.col-", "reason", "in-period",
			"at-24", "at-72", "lower-72", "upper-72", "at-96")},
	}
	hours := drawnAt(g)
	draw := chart.Stacked{
		About: f.about(ctx, when), Hours: words.Say(ctx, "outcomespage.hours"),
		Share: words.Say(ctx, "outcomespage.share-of-lines"), At: hours,
	}
	last := 0.0
	if len(hours) > 0 {
		last = hours[len(hours)-1]
	}
	ends := endsBySize(g, last)
	for _, r := range ends {
		f.Numbers.Rows = append(f.Numbers.Rows, causeRow(ctx, g, r))
	}
	failures := slices.IndexFunc(append(ends, 0), func(r line.Reason) bool { return !line.Fails(r) })
	draw.Layers = append(layersOf(ctx, g, ends[:failures], hours, mostFailures, "outcomespage.other-failures"),
		layersOf(ctx, g, ends[failures:], hours, mostOthers, "outcomespage.other-ends")...)
	still := chart.Layer{Name: words.Say(ctx, "outcomespage.still-in"), Blank: true}
	for _, h := range hours {
		still.Shares = append(still.Shares, g.Incidence.EventFree(h))
	}
	draw.Layers = append(draw.Layers, still)
	if len(hours) > 1 && len(ends) > 0 {
		f.Chart = draw
	}
	return f
}

// layersOf are the areas of some ends, those past the first few as one.
func layersOf(ctx context.Context, g *outcomes.Group, ends []line.Reason, hours []float64, most int, others string) (layers []chart.Layer) {
	for i, r := range ends {
		shares := sharesOf(g, r, hours)
		switch {
		case i < most || len(ends) == most+1:
			layers = append(layers, chart.Layer{Name: capital(words.Say(ctx, r.Word())), Shares: shares})
		case i == most:
			layers = append(layers, chart.Layer{Name: words.Say(ctx, others), Shares: shares})
		default:
			for k := range shares {
				layers[most].Shares[k] += shares[k]
			}
		}
	}
	return layers
}

// drawnAt is every hour up to where the curves are known, or drawn at most.
func drawnAt(g *outcomes.Group) (hours []float64) {
	for h := 0.0; h <= drawnHours && !math.IsNaN(g.Incidence.At(1, h).Estimate); h++ {
		hours = append(hours, h)
	}
	return hours
}

func sharesOf(g *outcomes.Group, r line.Reason, hours []float64) []float64 {
	shares := make([]float64, len(hours))
	for i, h := range hours {
		shares[i] = g.Incidence.At(stats.Ending(r), h).Estimate
	}
	return shares
}

// endsBySize are the ends that happened: failures first, the commonest at the
// bottom, then what came out without failing.
func endsBySize(g *outcomes.Group, hours float64) []line.Reason {
	var ends []line.Reason
	size := map[line.Reason]float64{}
	for _, r := range outcomes.Ends {
		if size[r] = g.Incidence.At(stats.Ending(r), hours).Estimate; size[r] > 0 {
			ends = append(ends, r)
		}
	}
	late := func(r line.Reason) int {
		if line.Fails(r) {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(ends, func(a, b line.Reason) int {
		return cmp.Or(cmp.Compare(late(a), late(b)), cmp.Compare(size[b], size[a]))
	})
	return ends
}

func causeRow(ctx context.Context, g *outcomes.Group, r line.Reason) []any {
	row := []any{capital(words.Say(ctx, r.Word())), g.Ended[r]}
	for _, h := range []float64{24, readAt, 96} {
		s := g.Incidence.At(stats.Ending(r), h)
		row = append(row, line.Share(s.Estimate))
		if h == readAt {
			i := s.Interval(stats.LogLog, outcomes.Confidence)
			row = append(row, line.Share(i.Lower), line.Share(i.Upper))
		}
	}
	return row
}
