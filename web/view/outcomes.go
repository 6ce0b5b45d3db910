package view

import (
	"cmp"
	"context"
	"errors"
	"net/url"
	"time"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
	"dwellbook/internal/words"
)

// Outcomes is what became of the lines of a period.
type Outcomes struct {
	Shell    Shell
	Of       *desk.Outcomes
	By       outcomes.By
	Cause    Cause
	Figures  []ChartFigure
	LeftOut  outcomes.LeftOut
	Adjusted *AdjustedView // nil: not asked for
	Form     Form
	Query    url.Values
	Presets  []NavItem
	Ended    []desk.Ended // the latest lines that ended with the cause
	EndedOf  int
}

var outcomeDefinitions = []string{"survival", "failure", "ends", "rate", "control", "funnel", "ward", "left-out"}

func (p Outcomes) day(name string) string {
	at := p.Of.Period.From
	if name == "to" {
		at = p.lastMinute()
	}
	return p.chosen(name, at.Time().In(p.Of.House.Zone).Format(time.DateOnly))
}

// lastMinute is in the last day shown: of a period to come, its first.
func (p Outcomes) lastMinute() line.Minute { return max(p.Of.Period.From, p.Of.Period.Until-1) }

// chosen is what was typed in a field, else what the page shows.
func (p Outcomes) chosen(name, shown string) string { return cmp.Or(p.Form.Get(name), shown) }

func (p Outcomes) shows(ctx context.Context) string {
	return words.Say(ctx, "outcomespage.shows", "when", p.When(ctx))
}

// When is the period and the hospital, for what stands alone.
func (p Outcomes) When(ctx context.Context) string {
	clock := words.To(ctx).In(p.Of.House.Zone)
	return words.Say(ctx, "outcomespage.when", "from", clock.Day(p.Of.Period.From), "to", clock.Day(p.lastMinute()), "hospital", p.Of.House.Hospital.Name)
}

func (p Outcomes) footnote(ctx context.Context) string {
	return words.Say(ctx, "outcomespage.footnote", "gone", p.LeftOut.FoundGone, "first", p.LeftOut.StartNotKnown, "day", p.LeftOut.DateOnly, "seq", p.Of.Seq)
}

func (p Outcomes) link(name, value string) string {
	q := url.Values{}
	for k, v := range p.Query {
		q[k] = v
	}
	q.Set(name, value)
	return "/outcomes?" + q.Encode() + "#" + name
}

func (p Outcomes) groupings(ctx context.Context) []Option {
	all := []Option{{Value: "", Label: words.Say(ctx, "outcomespage.by-all")}}
	for _, by := range outcomes.Bys() {
		all = append(all, Option{Value: by.String(), Label: words.Say(ctx, "outcomespage.by-"+by.String())})
	}
	return all
}

func (p Outcomes) causes(ctx context.Context) []Option {
	var all []Option
	for _, c := range Causes() {
		all = append(all, Option{Value: c.String(), Label: c.Label(ctx)})
	}
	return all
}

// ended is the lines behind the rates.
func (p Outcomes) ended(ctx context.Context) TableData {
	clock := words.To(ctx).In(p.Of.House.Zone)
	t := TableData{Caption: words.Say(ctx, "outcomespage.ended-caption", "shown", len(p.Ended), "n", p.EndedOf)}
	for _, head := range say(ctx, "outcomespage.col-", "line", "ward", "out", "dwell", "reason") {
		t.Columns = append(t.Columns, Column{Label: head})
	}
	for _, e := range p.Ended {
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{
			{Body: gaugeAndPlace(int(e.Gauge), SiteAndSide(ctx, e.Site, e.Side), "/lines/"+string(e.ID))}, {Text: e.Placed},
			{Text: clock.Stamp(e.Out)}, {Text: words.Span(ctx, e.Out.Sub(e.Current.Placed))}, {Text: words.Say(ctx, e.Reason.Word())},
		}})
	}
	return t
}

// AdjustedView is groups compared like for like, or why they are not.
type AdjustedView struct {
	Found *outcomes.Adjusted
	Err   error
}

func (a AdjustedView) reads(ctx context.Context) string {
	var few *stats.TooFewEventsError
	switch {
	case errors.As(a.Err, &few):
		return words.Say(ctx, "outcomespage.adjusted-few", "n", few.Events, "covariates", few.Covariates, "each", stats.EventsPerCovariate)
	case a.Err != nil:
		return words.Say(ctx, "outcomespage.adjusted-not")
	}
	key := "outcomespage.proportional"
	if a.Found.Proportional.P < 0.05 {
		key = "outcomespage.not-proportional"
	}
	text := words.Say(ctx, "outcomespage.adjusted-text", "n", a.Found.Lines, "failed", a.Found.Failed) + " " +
		words.Say(ctx, key, "p", line.PValue(a.Found.Proportional.P))
	if a.Found.LeftOut > 0 {
		text += " " + words.Say(ctx, "outcomespage.adjusted-left", "n", a.Found.LeftOut, "each", stats.EventsPerCovariate)
	}
	return text
}

func (a AdjustedView) table(ctx context.Context) TableData {
	n := Numbers{Caption: words.Say(ctx, "outcomespage.adjusted-numbers"), Head: say(ctx, "outcomespage.col-", "group", "lines", "failed", "hazard", "lower", "upper", "drift")}
	for _, l := range a.Found.Levels {
		name := words.Say(ctx, "outcomespage.level", "by", words.Say(ctx, "outcomespage.by-"+l.By.String()), "label", l.Name.Label)
		row := []any{name, l.Lines, l.Failed, line.Number(l.Hazard), line.Number(l.Interval.Lower), line.Number(l.Interval.Upper), line.PValue(l.Drifts.P)}
		if l.Reference {
			row = []any{name, l.Lines, l.Failed, words.Say(ctx, "outcomespage.reference"), "", "", ""}
		}
		n.Rows = append(n.Rows, row)
	}
	return n.table(ctx)
}
