package view

import (
	"context"
	"slices"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
	"dwellbook/internal/words"
	"dwellbook/web/chart"
)

// drawnHours is how far curves are drawn at most, and drawnLines how many must
// still be followed: the last few lines make steps that mean nothing (house rules).
const (
	drawnHours = 240
	drawnLines = 10
)

// mostCurves is how many groups can be told apart in one drawing.
const mostCurves = 9

// SurvivalFigure draws how long the lines of each group last.
func SurvivalFigure(ctx context.Context, c *outcomes.Courses, when string) ChartFigure {
	f := ChartFigure{
		Name: "survival", Title: words.Say(ctx, "outcomespage.survival-"+byWord(c.By)), Reading: c.Reading(),
		Numbers: Numbers{Caption: words.Say(ctx, "outcomespage.survival-numbers"), Head: say(ctx, "outcomespage.col-", "group", "lines", "failed",
			"median", "lower", "upper", "at-24", "lower-24", "upper-24", "at-risk-24", "at-72", "lower-72", "upper-72", "at-risk-72", "mean-96")},
	}
	draw := chart.Curves{
		About: f.about(ctx, when), Hours: words.Say(ctx, "outcomespage.hours"),
		Share: words.Say(ctx, "outcomespage.not-failed"), AtRisk: words.Say(ctx, "outcomespage.at-risk"),
	}
	shown := drawnGroups(c)
	for i := range c.Groups {
		g := &c.Groups[i]
		f.Numbers.Rows = append(f.Numbers.Rows, survivalRow(ctx, g))
		if shown[g.ID] {
			draw.Groups = append(draw.Groups, curveOf(ctx, g))
		}
	}
	if len(draw.Groups) < len(c.Groups) {
		f.Reading = append(f.Reading, line.Say("outcomespage.not-drawn", "n", len(c.Groups)-len(draw.Groups), "lines", drawnLines))
	}
	if len(draw.Groups) > 0 {
		f.Chart = draw
	}
	return f
}

// drawnGroups are those with the most lines, as many as can be told apart.
func drawnGroups(c *outcomes.Courses) map[string]bool {
	order := slices.Clone(c.Groups)
	slices.SortStableFunc(order, func(a, b outcomes.Group) int { return b.Lines - a.Lines })
	shown := map[string]bool{}
	for _, g := range order[:min(mostCurves, len(order))] {
		shown[g.ID] = g.Lines >= drawnLines
	}
	return shown
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
	row := []any{groupLabel(ctx, g), g.Lines, g.Failed, line.Hours(median), line.Hours(i.Lower), line.Hours(i.Upper)}
	for _, hours := range []float64{24, 72} {
		p := g.Survival.At(hours)
		at := p.Interval(stats.LogLog, outcomes.Confidence)
		row = append(row, line.Share(p.Estimate), line.Share(at.Lower), line.Share(at.Upper), p.AtRisk)
	}
	mean, _ := g.Survival.RestrictedMean(96)
	return append(row, line.Hours(mean))
}

// curveOf is a group's curve in hours, up to where it is drawn.
func curveOf(ctx context.Context, g *outcomes.Group) chart.Curve {
	c := chart.Curve{
		Name: groupLabel(ctx, g), Steps: []chart.Step{{Share: 1, Low: 1, High: 1}},
		AtRisk: func(hour float64) int { return g.Survival.At(hour).AtRisk },
	}
	until := min(drawnHours, g.Cohort.FollowedBy(drawnLines))
	for _, p := range g.Survival.Steps() {
		if p.Time > until {
			break
		}
		i := p.Interval(stats.LogLog, outcomes.Confidence)
		c.Steps = append(c.Steps, chart.Step{Hour: p.Time, Share: p.Estimate, Low: i.Lower, High: i.Upper})
	}
	end := c.Steps[len(c.Steps)-1]
	end.Hour = until
	c.Steps = append(c.Steps, end)
	if median, _ := g.Survival.Median(stats.LogLog, outcomes.Confidence); g.Tells() && median <= until {
		c.Median = median
		c.Note = words.Say(ctx, "outcomespage.half", "hours", line.Hours(median))
	}
	return c
}
