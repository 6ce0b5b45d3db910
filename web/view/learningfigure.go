package view

import (
	"context"
	"math"
	"strconv"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/words"
	"dwellbook/web/chart"
)

// LearningFigures are the three sums of a record: until performance is shown to
// be adequate, between two boundaries, and after that.
func LearningFigures(ctx context.Context, p *desk.Progress) []ChartFigure {
	c := p.Curve
	unit := words.Say(ctx, c.Unit.Word())
	lower, upper := c.Standard.Boundaries()
	learning := sumFigure{name: "learning", unit: unit, sums: c.Learning.Sums, first: 1, upper: c.Standard.LearningLimit, lower: math.NaN(),
		upperName: words.Say(ctx, "learningpage.adequate"), signals: signalsAt(ctx, c.Learning.Signals, "learningpage.adequate"), better: true}
	both := sumFigure{name: "two-sided", unit: unit, sums: c.Sequential.Sums, first: 1, upper: upper, lower: lower,
		upperName: words.Say(ctx, "learningpage.unacceptable"), lowerName: words.Say(ctx, "learningpage.acceptable"), signals: map[int]string{}}
	if c.Sequential.Acceptable > 0 {
		both.signals[c.Sequential.Acceptable] = words.Say(ctx, "learningpage.acceptable")
	}
	figures := []ChartFigure{learning.figure(ctx, c), both.figure(ctx, c)}
	figures[0].Reading = c.Reading()
	figures[1].Reading = []line.Message{line.Say("learningpage.two-sided-reading", "fewest", p.Behaviour.FewestTrials, "units", c.Unit.Plural())}
	if c.LearnedAt > 0 {
		watch := sumFigure{name: "watch", unit: unit, sums: c.Watch.Sums, first: c.LearnedAt + 1, upper: c.Standard.WatchLimit, lower: math.NaN(),
			upperName: words.Say(ctx, "learningpage.watch-limit"), signals: signalsAt(ctx, c.Watch.Signals, "learningpage.watch-signal")}
		figure := watch.figure(ctx, c)
		figure.Reading = []line.Message{c.Standard.FalseAlarms(c.Unit)}
		figures = append(figures, figure)
	}
	return figures
}

// sumsShown is how many sums stand in the table of a chart, the latest.
const sumsShown = 100

// sumFigure is one cumulative sum with its limits.
type sumFigure struct {
	name, unit           string
	sums                 []float64
	first                int // the trial of the first sum
	lower, upper         float64
	lowerName, upperName string
	signals              map[int]string // by place in sums, from 1
	better               bool           // a signal is for the better
}

func signalsAt(ctx context.Context, at []int, key string) map[int]string {
	texts := map[int]string{}
	if len(at) > 0 { // the first: a sum that stays above its limit says nothing new
		texts[at[0]] = words.Say(ctx, key)
	}
	return texts
}

func (s sumFigure) figure(ctx context.Context, c outcomes.Curve) ChartFigure {
	f := ChartFigure{Name: s.name, Title: words.Say(ctx, "learningpage.title-"+s.name, "unit", s.unit)}
	f.Numbers = Numbers{
		Caption: words.Say(ctx, "learningpage.sums", "shown", min(sumsShown, len(s.sums)), "n", len(s.sums)),
		Head:    say(ctx, "learningpage.col-", "trial", "result", "sum", "signal"),
	}
	draw := chart.Control{
		Order: words.Say(ctx, "learningpage.order", "unit", s.unit), Values: chart.Axis{Label: words.Say(ctx, "learningpage.sum"), Decimal: words.DecimalMark(ctx)},
		Upper: s.upperName, Lower: s.lowerName,
	}
	for i, sum := range s.sums {
		trial := s.first + i
		result := words.Say(ctx, "learningpage.success")
		if c.Trials[trial-1].Failed {
			result = words.Say(ctx, "learningpage.failed")
		}
		draw.Points = append(draw.Points, chart.ControlPoint{
			Label: strconv.Itoa(trial), Value: sum, Centre: math.NaN(), Lower: s.lower, Upper: s.upper, Signal: s.signals[i+1],
			Better: s.better || sum < 0,
		})
		if i >= len(s.sums)-sumsShown {
			f.Numbers.Rows = append(f.Numbers.Rows, []any{strconv.Itoa(trial), result, line.Number(sum), s.signals[i+1]})
		}
	}
	if c.Tells() && len(s.sums) > 0 {
		draw.About = chart.About{ID: "chart-" + f.Name, Title: f.Title, Desc: words.Say(ctx, "learningpage.desc", "n", len(s.sums))}
		f.Chart = draw
	} else {
		f.Numbers.Rows = nil
	}
	return f
}

// PartsFigure is the shares of success of a record, by one grouping.
func PartsFigure(ctx context.Context, r *outcomes.Record, p *desk.Progress, by outcomes.By) ChartFigure {
	f := ChartFigure{Name: "by-" + by.String(), Title: words.Say(ctx, "learningpage.by-"+by.String(), "unit", words.Say(ctx, p.Unit.Word()))}
	f.Numbers = Numbers{Caption: f.Title, Head: say(ctx, "learningpage.col-", "group", "successes", "trials", "share", "lower", "upper")}
	draw := chart.Intervals{About: chart.About{ID: "chart-" + f.Name, Title: f.Title}, Axis: chart.Axis{Label: words.Say(ctx, "learningpage.share"), Share: true, Decimal: words.DecimalMark(ctx)}}
	few := 0
	for _, part := range r.By(by, p.Unit, p.Names) {
		share, ok := part.Proportion()
		if !ok {
			continue
		}
		if part.Few() {
			few++
		}
		name := capital(words.Say(ctx, "outcomes.group-name", "label", part.Label))
		f.Numbers.Rows = append(f.Numbers.Rows, []any{name, part.Successes, part.N, line.Share(share), line.Share(part.Lower), line.Share(part.Upper)})
		draw.Rows = append(draw.Rows, chart.Interval{
			Name: name, Point: share, Low: part.Lower, High: part.Upper, N: words.Say(ctx, "learningpage.of", "x", part.Successes, "n", part.N),
			Figure: words.Say(ctx, "learningpage.share-figure", "share", line.Share(share), "lower", line.Share(part.Lower), "upper", line.Share(part.Upper)),
		})
	}
	f.Reading = []line.Message{line.Say("learningpage.by-reading")}
	if few > 0 {
		f.Reading = append(f.Reading, line.Say("learningpage.by-few", "n", few))
	}
	draw.Desc = f.reads(ctx)
	if len(draw.Rows) > 0 {
		f.Chart = draw
	}
	return f
}
