package view

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
	"dwellbook/internal/words"
	"dwellbook/web/chart"
)

// Cause is what rates are of: one reason, or every failure.
type Cause struct {
	Reason line.Reason // 0: every failure
}

// Causes are those a person may choose.
func Causes() []Cause {
	all := []Cause{{}}
	for _, r := range outcomes.FailureReasons() {
		all = append(all, Cause{r})
	}
	return all
}

// String is the cause's word in addresses.
func (c Cause) String() string {
	if c.Reason == 0 {
		return "failure"
	}
	return c.Reason.String()
}

// Label is the cause for people.
func (c Cause) Label(ctx context.Context) string {
	if c.Reason == 0 {
		return words.Say(ctx, "outcomespage.any-failure")
	}
	return words.Say(ctx, c.Reason.Word())
}

// Reasons are the reasons that count.
func (c Cause) Reasons() []line.Reason {
	if c.Reason == 0 {
		return outcomes.FailureReasons()
	}
	return []line.Reason{c.Reason}
}

func (c Cause) rate(g *outcomes.Group) stats.Rate { return g.Rate(c.Reasons()...) }

// wardRates are the wards' rates of a cause, the highest first.
type wardRates struct {
	groups []outcomes.Group
	rates  []stats.Rate
	all    float64 // all events over all exposure; NaN without exposure
}

func ratesOf(wards *outcomes.Courses, cause Cause) wardRates {
	w := wardRates{groups: slices.Clone(wards.Groups)}
	slices.SortStableFunc(w.groups, func(a, b outcomes.Group) int {
		return cmp.Compare(cause.rate(&b).Estimate(), cause.rate(&a).Estimate())
	})
	for i := range w.groups {
		w.rates = append(w.rates, cause.rate(&w.groups[i]))
	}
	w.all = stats.PooledRate(w.rates)
	return w
}

// RatesFigure draws how often lines of each ward ended so, with exact intervals.
func RatesFigure(ctx context.Context, wards *outcomes.Courses, cause Cause, when string) ChartFigure {
	w := ratesOf(wards, cause)
	label := cause.Label(ctx)
	f := ChartFigure{
		Name: "rates", Title: words.Say(ctx, "outcomespage.rates", "cause", label), Reading: readRates(w),
		Numbers: Numbers{Caption: words.Say(ctx, "outcomespage.rates-numbers", "cause", label),
			Head: say(ctx, "outcomespage.col-", "ward", "events", "days", "rate", "lower", "upper")},
	}
	draw := chart.Intervals{
		About: f.about(ctx, when),
		Axis:  chart.Axis{Label: words.Say(ctx, "outcomespage.per-1000"), Decimal: words.DecimalMark(ctx)},
	}
	if w.all > 0 {
		draw.Reference = chart.Line{Name: words.Say(ctx, "outcomespage.all-wards", "rate", line.Number(w.all)), At: w.all}
	}
	for i := range w.groups {
		r := w.rates[i]
		at := r.Interval(outcomes.Confidence)
		name := groupLabel(ctx, &w.groups[i])
		f.Numbers.Rows = append(f.Numbers.Rows, []any{name, r.Events, line.Number(r.Exposure * outcomes.PerThousand),
			line.Number(r.Estimate()), line.Number(at.Lower), line.Number(at.Upper)})
		draw.Rows = append(draw.Rows, chart.Interval{
			Name: name, Point: r.Estimate(), Low: at.Lower, High: at.Upper,
			N:      words.Say(ctx, "outcomespage.events-in-days", "n", r.Events, "days", fmt.Sprintf("%.0f", r.Exposure*outcomes.PerThousand)),
			Figure: words.Say(ctx, "outcomespage.rate-figure", "rate", line.Number(r.Estimate()), "lower", line.Number(at.Lower), "upper", line.Number(at.Upper)),
		})
	}
	if len(draw.Rows) > 0 {
		f.Chart = draw
	}
	return f
}

// readRates compares the highest ward with all the others together.
func readRates(w wardRates) []line.Message {
	return outcomes.ReadRates(w.rates, labels(w.groups))
}

func labels(groups []outcomes.Group) (all []any) {
	for i := range groups {
		all = append(all, groups[i].Label)
	}
	return all
}

// FunnelFigure sets the wards' rates of a cause in a funnel.
func FunnelFigure(ctx context.Context, wards *outcomes.Courses, cause Cause, when string) ChartFigure {
	w := ratesOf(wards, cause)
	funnel := outcomes.NewFunnel(w.rates)
	label := cause.Label(ctx)
	f := ChartFigure{
		Name: "funnel", Title: words.Say(ctx, "outcomespage.funnel", "cause", label), Reading: funnel.Reading(labels(w.groups)),
		Numbers: Numbers{Caption: words.Say(ctx, "outcomespage.funnel-numbers", "cause", label),
			Head: say(ctx, "outcomespage.col-", "ward", "events", "days", "rate", "inner-low", "inner-high", "outer-low", "outer-high")},
	}
	if funnel == nil {
		return f
	}
	draw := chart.Funnel{
		About: f.about(ctx, when),
		Size:  chart.Axis{Label: words.Say(ctx, "outcomespage.days"), Decimal: words.DecimalMark(ctx)}, Rate: chart.Axis{Label: words.Say(ctx, "outcomespage.per-1000"), Decimal: words.DecimalMark(ctx)},
		Centre: chart.Line{Name: words.Say(ctx, "outcomespage.all-wards", "rate", line.Number(funnel.Target)), At: funnel.Target},
	}
	inner, outer := chart.FunnelLimit{Name: words.Say(ctx, "outcomespage.inner")}, chart.FunnelLimit{Name: words.Say(ctx, "outcomespage.outer")}
	for _, l := range funnel.Curves {
		size := l.Exposure * outcomes.PerThousand
		inner.Points = append(inner.Points, chart.LimitPoint{Size: size, Low: max(0, l.Warning.Lower), High: l.Warning.Upper})
		outer.Points = append(outer.Points, chart.LimitPoint{Size: size, Low: max(0, l.Action.Lower), High: l.Action.Upper})
	}
	draw.Limits = []chart.FunnelLimit{inner, outer}
	for i, p := range funnel.Points {
		r := w.rates[i]
		name := groupLabel(ctx, &w.groups[i])
		draw.Units = append(draw.Units, chart.Unit{Name: name, Size: r.Exposure * outcomes.PerThousand, Rate: p.Value, Outside: p.BeyondAction(), Better: p.Value < funnel.Target})
		f.Numbers.Rows = append(f.Numbers.Rows, []any{name, r.Events, line.Number(r.Exposure * outcomes.PerThousand), line.Number(p.Value),
			line.Number(max(0, p.Warning.Lower)), line.Number(p.Warning.Upper), line.Number(max(0, p.Action.Lower)), line.Number(p.Action.Upper)})
	}
	f.Chart = draw
	return f
}
