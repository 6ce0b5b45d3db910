package view

import (
	"context"
	"fmt"
	"io"
	"regexp"
	"strings"

	"github.com/a-h/templ"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/static"
)

// Report is a month's report.
type Report struct {
	Shell Shell
	Form  Form
	Month *desk.MonthReport
}

const looks = audit.ReviewOverdue

// definitions are the keys of what each figure means, in the order shown.
var definitions = []string{
	"due", "in-time", "late", "missed", "open", "accepted", "not-seen", "share", "interval", "hours-overdue", "hours-unaccounted", "lateness", "met-by",
	"first-seen", "stood",
}

// monthKeys are the months' names.
var monthKeys = [...]string{
	"month.1", "month.2", "month.3", "month.4", "month.5", "month.6", "month.7", "month.8", "month.9", "month.10", "month.11", "month.12",
}

func (p Report) id() string { return p.Month.Start.Format("2006-01") }

func (p Report) title(ctx context.Context) string {
	return words.Say(ctx, "report.title", "month", monthText(ctx, p.Month.Start))
}

// judged is the moment of judging in full: the file is read on other days.
func (p Report) judged(ctx context.Context) string {
	return words.To(ctx).In(p.Month.House.Zone).Stamp(p.Month.Rules.At)
}

// sentence says the month's figure of looks in words, with its interval and n.
func (p Report) sentence(ctx context.Context) string {
	for i := range p.Month.Rules.Groups {
		g := &p.Month.Rules.Groups[i]
		if share, ok := g.Proportion(); g.Rule == looks && ok {
			return words.Say(ctx, "report.sentence", "due", g.Decided(), "share", tenths(ctx, share), "lower", tenths(ctx, g.ByLine.Lower),
				"upper", tenths(ctx, g.ByLine.Upper), "lines", g.Duties.Lines, "hours", hours(ctx, g.Overdue.Hours()))
		}
	}
	return words.Say(ctx, "report.no-looks")
}

// tenths is a share in per cent, to a tenth; tenth is the same without the sign.
func tenths(ctx context.Context, p float64) string { return tenth(ctx, p) + " %" }

func tenth(ctx context.Context, p float64) string { return words.Decimal(ctx, 100*p, 1) }

func hours(ctx context.Context, h float64) string { return words.Decimal(ctx, h, 1) }

// complianceTable is the table of a grouping; rule, if given, picks one rule.
// share draws the cell of the share in time.
func complianceTable(ctx context.Context, caption string, c *desk.Compliance, rule line.Rule, share func(*desk.Group) Cell) TableData {
	t := TableData{Caption: caption, Columns: []Column{{Label: words.Say(ctx, "report.by-"+c.By.String()+"-head")}}}
	for _, key := range []string{"lines", "due", "in-time", "late", "missed", "open", "accepted", "not-seen", "share", "hours-overdue", "unaccounted", "lateness"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "report.col-"+key), Num: true})
	}
	for i := range c.Groups {
		g := &c.Groups[i]
		if rule != "" && g.Rule != rule {
			continue
		}
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{
			{Text: c.NameOf(ctx, g.Rule, g.Slot).Name}, {Text: count(g.Count.Lines)}, {Text: count(g.Due())}, {Text: count(g.MetInTime)},
			{Text: count(g.MetLate)}, {Text: count(g.Missed)}, {Text: count(g.Open)}, {Text: count(g.Accepted)}, {Text: count(g.NotSeen)},
			share(g), {Text: hours(ctx, g.Overdue.Hours())}, {Text: hours(ctx, g.Unaccounted.Hours())}, {Text: latenessText(ctx, g)},
		}})
	}
	return t
}

// plainShare is the share alone.
func plainShare(ctx context.Context) func(*desk.Group) Cell {
	return func(g *desk.Group) Cell { return Cell{Text: shareText(ctx, g)} }
}

// shareText is a share with its interval by line, and a word where n is small.
func shareText(ctx context.Context, g *desk.Group) string {
	share, ok := g.Proportion()
	switch {
	case !ok:
		return words.Say(ctx, "report.none-ended")
	case g.Few():
		return words.Say(ctx, "report.share-few", "share", tenths(ctx, share), "n", g.Decided())
	}
	return words.Say(ctx, "report.share", "share", tenths(ctx, share), "lower", tenth(ctx, g.ByLine.Lower), "upper", tenth(ctx, g.ByLine.Upper))
}

func latenessText(ctx context.Context, g *desk.Group) string {
	median, ok := g.LateAt(0.5)
	if !ok {
		return words.Say(ctx, "report.none-late")
	}
	most, _ := g.LateAt(0.9)
	text := words.Say(ctx, "report.lateness", "median", minutes(ctx, median), "most", minutes(ctx, most))
	if g.Unfinished > 0 {
		text += words.Say(ctx, "report.unfinished", "n", g.Unfinished)
	}
	return text
}

// minutes writes a lateness as people say it.
func minutes(ctx context.Context, m float64) string {
	if m < 120 {
		return fmt.Sprintf("%.0f min", m)
	}
	return words.Decimal(ctx, m/60, 1) + " h"
}

// metByText says what met a rule's duties, and that a removal flatters looks.
func metByText(ctx context.Context, c *desk.Compliance, rule line.Rule) string {
	sum := c.MetBy(rule)
	text := words.Say(ctx, "report.met-by", "rule", words.Say(ctx, "duty."+string(rule)))
	for by := audit.ByReview; by <= audit.BySiteCheck; by++ {
		if sum[by] > 0 {
			text += " " + words.Say(ctx, "report.met-by-"+by.String(), "n", sum[by])
		}
	}
	if rule == looks {
		text += " " + words.Say(ctx, "report.flatters")
	}
	return text
}

func unrecordedText(ctx context.Context, c *desk.Compliance) string {
	sum := c.UnrecordedInAll()
	return words.Say(ctx, "report.unrecorded", "found", sum.Found, "gone", sum.Gone)
}

// worstTable lists the longest stretches; linked: each leads to its line.
func worstTable(ctx context.Context, worst []desk.WorstStretch, linked bool) TableData {
	t := TableData{Caption: words.Say(ctx, "report.worst-caption")}
	for _, key := range []string{"duty", "ward", "line", "from", "until", "hours"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "report.col-"+key), Num: key == "hours"})
	}
	for _, w := range worst {
		clock := words.To(ctx).In(w.Ward.Location)
		place := Cell{Text: placeText(ctx, w.Current)}
		if linked {
			place.Href = "/lines/" + string(w.Current.ID)
		}
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{
			{Text: words.Say(ctx, "duty."+string(w.Rule))}, {Text: w.Ward.Name}, place,
			{Text: clock.Stamp(w.From)}, {Text: clock.Stamp(w.Until)},
			{Text: hours(ctx, w.Until.Sub(w.From).Hours())},
		}})
	}
	return t
}

// placeText names a line without its patient.
func placeText(ctx context.Context, l line.Current) string {
	return words.Say(ctx, "report.line", "site", l.Site, "side", l.Side, "gauge", l.Gauge)
}

func (p Report) findings(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "report.findings")}
	for _, key := range []string{"finding", "severity", "stood", "on-lines", "hours"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "report.col-"+key), Num: key != "finding" && key != "severity"})
	}
	for _, f := range p.Month.Findings {
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{
			{Text: words.Say(ctx, f.Rule.Word())}, {Text: words.Say(ctx, f.Severity.Word())}, {Text: count(f.Stood)}, {Text: count(f.Lines)}, {Text: hours(ctx, f.Hours)},
		}})
	}
	return t
}

// policies says which were in force, and from when, where that is not for ever.
func (p Report) policies(ctx context.Context) string {
	var list []string
	for _, f := range p.Month.Policies {
		if f.From <= p.Month.Rules.Period.From {
			list = append(list, words.Say(ctx, "report.policy-from-start", "policy", f.Name()))
			continue
		}
		list = append(list, words.Say(ctx, "report.policy-from", "policy", f.Name(), "at", words.To(ctx).In(p.Month.House.Zone).Stamp(f.From)))
	}
	return strings.Join(list, " ")
}

// rules lists the policy's rules with their sources.
func (p Report) rules(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "report.rules")}
	for _, key := range []string{"rule", "values", "why", "source"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "report.col-"+key)})
	}
	for _, r := range p.Month.Rules.Policy.Rules() {
		values := words.Say(ctx, "policypage.off")
		if r.On {
			values = strings.Join(append([]string{words.Say(ctx, r.Severity.Word())}, settingsText(r.Settings)), " ")
		}
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{{Text: words.Say(ctx, r.Rule.Word())}, {Text: values}, {Text: r.Why}, {Text: r.Source}}})
	}
	return t
}

// typeface is what a file that stands alone cannot carry.
var typeface = regexp.MustCompile(`(?s)@font-face \{.*?\}`)

// inlineStyle is the stylesheet inside a page that stands alone.
func inlineStyle() templ.Component {
	return templ.ComponentFunc(func(_ context.Context, w io.Writer) error {
		_, err := io.WriteString(w, "<style>"+typeface.ReplaceAllString(static.Text("dwellbook.css"), "")+"</style>")
		return err
	})
}
