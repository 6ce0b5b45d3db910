package view

import (
	"context"
	"math"
	"slices"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
	"dwellbook/internal/words"
	"dwellbook/web/chart"
)

// drawnHours is how far curves are drawn at most: beyond ten days next to no
// line is left to tell.
const drawnHours = 240

// mostCurves is how many groups can be told apart in one drawing.
const mostCurves = 9

// SurvivalFigure draws how long the lines of each group last.
func SurvivalFigure(ctx context.Context, c *outcomes.Courses) ChartFigure {
	f := ChartFigure{
		Name: "survival", Title: words.Say(ctx, "outcomespage.survival-"+byWord(c.By)), Reading: c.Reading(),
		Numbers: Numbers{Caption: words.Say(ctx, "outcomespage.survival-numbers"), Head: say(ctx, "outcomespage.col-", "group", "lines", "failed",
			"median", "lower", "upper", "at-24", "lower", "upper", "at-risk", "at-72", "lower", "upper", "at-risk", "mean-96")},
	}
	draw := chart.Curves{
		About: chart.About{ID: "chart-survival", Title: f.Title, Desc: f.reads(ctx)}, Hours: words.Say(ctx, "outcomespage.hours"),
		Share: words.Say(ctx, "outcomespage.not-failed"), AtRisk: words.Say(ctx, "outcomespage.at-risk"),
	}
	for i := range c.Groups {
		g := &c.Groups[i]
		f.Numbers.Rows = append(f.Numbers.Rows, survivalRow(ctx, g))
		draw.Groups = append(draw.Groups, curveOf(ctx, g))
	}
	// Of many groups those with the most lines are drawn; all are in the table.
	if len(draw.Groups) > mostCurves {
		order := make([]int, len(c.Groups))
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(a, b int) int { return c.Groups[b].Lines - c.Groups[a].Lines })
		order = order[:mostCurves]
		slices.Sort(order)
		all := draw.Groups
		draw.Groups = nil
		for _, i := range order {
			draw.Groups = append(draw.Groups, all[i])
		}
		f.Reading = append(f.Reading, line.Say("outcomespage.most-curves", "n", mostCurves))
	}
	if len(draw.Groups) > 0 {
		f.Chart = draw
	}
	return f
}

func byWord(by outcomes.By) string {
	if by == outcomes.ByNothing {
		return "all"
	}
	return by.String()
}

// say is the texts of many keys.
func say(ctx context.Context, prefix string, keys ...string) []string {
	var texts []string
	for _, key := range keys {
		texts = append(texts, words.Say(ctx, prefix+key))
	}
	return texts
}

func groupLabel(ctx context.Context, g *outcomes.Group) string {
	return capital(words.Say(ctx, "outcomes.group-name", "label", g.Label))
}

func survivalRow(ctx context.Context, g *outcomes.Group) []any {
	median, i := g.Survival.Median(stats.LogLog, outcomes.Confidence)
	row := []any{groupLabel(ctx, g), g.Lines, g.Failed, line.Hours(median / 60), line.Hours(i.Lower / 60), line.Hours(i.Upper / 60)}
	for _, hours := range []float64{24, 72} {
		p := g.Survival.At(hours * 60)
		at := p.Interval(stats.LogLog, outcomes.Confidence)
		row = append(row, line.Share(p.Estimate), line.Share(at.Lower), line.Share(at.Upper), p.AtRisk)
	}
	mean, _ := g.Survival.RestrictedMean(96 * 60)
	return append(row, line.Hours(mean/60))
}

// curveOf is a group's curve in hours, up to where it is drawn.
func curveOf(ctx context.Context, g *outcomes.Group) chart.Curve {
	c := chart.Curve{
		Name: groupLabel(ctx, g), Steps: []chart.Step{{Share: 1, Low: 1, High: 1}},
		AtRisk: func(hour float64) int { return g.Survival.At(hour * 60).AtRisk },
	}
	level := 1.0
	for _, p := range g.Survival.Steps() {
		hour := p.Time / 60
		if hour > drawnHours {
			break
		}
		i := p.Interval(stats.LogLog, outcomes.Confidence)
		c.Steps = append(c.Steps, chart.Step{Hour: hour, Share: p.Estimate, Low: i.Lower, High: i.Upper})
		level = p.Estimate
	}
	if last := min(g.Survival.End()/60, drawnHours); last > c.Steps[len(c.Steps)-1].Hour {
		end := c.Steps[len(c.Steps)-1]
		end.Hour = last
		end.Share = level
		c.Steps = append(c.Steps, end)
	}
	if median, _ := g.Survival.Median(stats.LogLog, outcomes.Confidence); g.Tells() && !math.IsInf(median, 1) {
		c.Median = median / 60
		c.Note = words.Say(ctx, "outcomespage.half", "hours", line.Hours(median/60))
	}
	return c
}
