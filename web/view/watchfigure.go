package view

import (
	"context"
	"math"
	"strings"
	"time"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/words"
	"dwellbook/web/chart"
)

// WatchFigure is the control chart of an event: rates by month or week, or, of
// one that is rare, the lines between two.
func WatchFigure(ctx context.Context, w *outcomes.Watched, zone *time.Location, when string) ChartFigure {
	event := words.Say(ctx, w.Event.Word())
	f := ChartFigure{Name: w.Event.String(), Reading: w.Reading(), Title: words.Say(ctx, "outcomespage.watch-none", "event", event)}
	f.Numbers.Caption = words.Say(ctx, "outcomespage.watch-numbers", "event", event)
	var draw chart.Control
	switch {
	case w.Rates != nil:
		f.Title = words.Say(ctx, "outcomespage.watch-rates", "event", event)
		f.rates(ctx, w, zone, &draw)
	case w.Gaps != nil:
		f.Title = words.Say(ctx, "outcomespage.watch-gaps", "event", event)
		f.gaps(ctx, w, zone, &draw)
	default:
		return f
	}
	draw.About = f.about(ctx, when)
	f.Chart = draw
	return f
}

func (f *ChartFigure) rates(ctx context.Context, w *outcomes.Watched, zone *time.Location, draw *chart.Control) {
	f.Numbers.Head = say(ctx, "outcomespage.col-", "from", "events", "days", "rate", "centre", "limit-low", "limit-high", "signal")
	form, order := words.ShortMonth, "outcomespage.month"
	if w.Weekly {
		form, order = words.DayMonth, "outcomespage.week"
	}
	draw.Order, draw.Values = words.Say(ctx, order), chart.Axis{Label: words.Say(ctx, "outcomespage.per-1000"), Decimal: words.DecimalMark(ctx)}
	draw.Upper, draw.Lower = words.Say(ctx, "outcomespage.upper-limit"), words.Say(ctx, "outcomespage.lower-limit")
	draw.Centre = words.Say(ctx, "outcomespage.mean", "x", line.Number(w.Rates.Center))
	signals, to := signalWords(ctx, w), words.To(ctx)
	for i, p := range w.Rates.Points {
		at := w.Periods[i].From.Time().In(zone)
		draw.Points = append(draw.Points, sober(w, chart.ControlPoint{
			Label: to.Write(at, form), Value: p.Value, Centre: w.Rates.Center, Lower: drawn(p.Lower), Upper: p.Upper, Signal: signals[i],
			Better: p.Value < w.Rates.Center,
		}))
		f.Numbers.Rows = append(f.Numbers.Rows, []any{to.Write(at, words.Date), int(w.Samples[i].Count),
			line.Number(w.Samples[i].Size * outcomes.PerThousand), line.Number(p.Value), line.Number(w.Rates.Center), line.Number(p.Lower), line.Number(p.Upper), signals[i]})
	}
}

func (f *ChartFigure) gaps(ctx context.Context, w *outcomes.Watched, zone *time.Location, draw *chart.Control) {
	f.Numbers.Head = say(ctx, "outcomespage.col-", "on", "gap", "centre", "limit-low", "limit-high", "signal")
	draw.Order, draw.Values = words.Say(ctx, "outcomespage.one-after-another"), chart.Axis{Label: words.Say(ctx, "outcomespage.lines-between"), Decimal: words.DecimalMark(ctx)}
	draw.Upper = words.Say(ctx, "outcomespage.upper-limit")
	draw.Centre = words.Say(ctx, "outcomespage.mean", "x", line.Number(w.Gaps.Center))
	signals, to := signalWords(ctx, w), words.To(ctx)
	for i, gap := range w.Gaps.Gaps {
		at := w.When[i].Time().In(zone)
		draw.Points = append(draw.Points, sober(w, chart.ControlPoint{
			Label: to.Write(at, words.ShortDate), Value: float64(gap), Centre: w.Gaps.Center, Lower: math.NaN(), Upper: w.Gaps.Upper, Signal: signals[i],
			Better: float64(gap) > w.Gaps.Center,
		}))
		f.Numbers.Rows = append(f.Numbers.Rows, []any{to.Write(at, words.Date), gap, line.Number(w.Gaps.Center), line.Number(w.Gaps.Lower),
			line.Number(w.Gaps.Upper), signals[i]})
	}
}

// drawn is a lower limit where there is one: a rate cannot fall below 0.
func drawn(lower float64) float64 {
	if lower == 0 {
		return math.NaN()
	}
	return lower
}

// sober takes away what too few points cannot tell.
func sober(w *outcomes.Watched, p chart.ControlPoint) chart.ControlPoint {
	if w.Few() {
		p.Centre, p.Lower, p.Upper, p.Signal = math.NaN(), math.NaN(), math.NaN(), ""
	}
	return p
}

// signalWords names the rules that hold at each point.
func signalWords(ctx context.Context, w *outcomes.Watched) map[int]string {
	names := map[int][]string{}
	for _, s := range w.Signals {
		names[s.At] = append(names[s.At], words.Say(ctx, "signal."+s.Rule.Name))
	}
	texts := map[int]string{}
	for i, all := range names {
		texts[i] = strings.Join(all, ", ")
	}
	return texts
}
