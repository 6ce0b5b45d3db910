package view

import (
	"context"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/flow"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/chart"
)

// Sizes is the page on which a size is chosen.
type Sizes struct {
	Shell  Shell
	Form   Form
	Answer *desk.Sizes // nil: the form cannot be read
}

func (p Sizes) field(ctx context.Context, name string) Field {
	return Field{Name: name, Label: words.Say(ctx, "sizepage."+name), Error: p.Form.Error(name)}
}

func (p Sizes) hinted(ctx context.Context, name string) Field {
	f := p.field(ctx, name)
	f.Hint = words.Say(ctx, "sizepage."+name+"-hint")
	return f
}

// more reports whether the folded fields say something.
func (p Sizes) more() bool {
	return slices.ContainsFunc([]string{"fluid", "head", "pressure", "tubing", "connector", "extension"}, func(name string) bool { return p.Form.Get(name) != "" })
}

func (p Sizes) number(name, unit string) Input {
	return Input{Value: p.Form.Get(name), InputMode: "decimal", Width: "short", Unit: unit, MaxLength: 10}
}

// purposes are what a size is chosen for.
func purposes(ctx context.Context) []Option {
	var all []Option
	for _, p := range []line.Purpose{line.ForFluids, line.ForDrugs, line.ForBlood, line.ForContrast, line.ForEmergency} {
		all = append(all, Option{Value: p.String(), Label: words.Say(ctx, "sizepage.for."+p.String())})
	}
	return all
}

func flowUnits(ctx context.Context) []Option {
	var all []Option
	for _, unit := range []string{"ml-h", "ml-min", "ml-s"} {
		all = append(all, Option{Value: unit, Label: words.Say(ctx, "sizepage.unit."+unit)})
	}
	return all
}

// usually puts what is usual for the therapy before the others.
func usually(ctx context.Context, all []Option) []Option {
	return append([]Option{{Label: words.Say(ctx, "sizepage.usual")}}, all...)
}

func fluids(ctx context.Context) []Option {
	var all []Option
	for _, f := range flow.Fluids {
		all = append(all, Option{Value: f.String(), Label: words.Say(ctx, "flow.fluid."+f.String())})
	}
	return usually(ctx, all)
}

func tubings(ctx context.Context) []Option {
	var all []Option
	for _, t := range []flow.Tubing{flow.StandardTubing, flow.WideTubing} {
		all = append(all, Option{Value: t.String(), Label: words.Say(ctx, "flow.tubing."+t.String())})
	}
	return usually(ctx, all)
}

func (p Sizes) sites(ctx context.Context) []Option {
	return append([]Option{{Label: words.Say(ctx, "sizepage.no-site")}}, siteOptions(ctx)...)
}

func (p Sizes) gauges(ctx context.Context) []Option {
	return append([]Option{{Label: words.Say(ctx, "sizepage.thinnest")}}, gauges()...)
}

// sizeAnswer is the answer in words and drawings.
type sizeAnswer struct{ *desk.Sizes }

func (a sizeAnswer) contrast() bool { return audit.TherapyFor(a.For) == flow.Contrast }

// need is what is needed and which sizes meet it.
func (a sizeAnswer) need(ctx context.Context) string {
	if a.Need == 0 {
		return words.Say(ctx, "sizepage.no-need")
	}
	text := words.Say(ctx, "sizepage.need-hourly", "flow", line.Number(a.Need), "hourly", line.Number(a.Need*60))
	if a.contrast() {
		text = words.Say(ctx, "sizepage.need-second", "flow", line.Number(a.Need), "second", line.Number(a.Need/60))
	}
	return text
}

func (a sizeAnswer) fits(ctx context.Context) string {
	text := words.Say(ctx, "sizepage.fits-none")
	if a.Fits != 0 {
		text = words.Say(ctx, "sizepage.fits", "gauge", a.Fits)
	}
	var judged []flow.Judgement
	for _, r := range a.Rows {
		judged = append(judged, r.Judged)
	}
	if may := mayMeet(judged); may != "" {
		text += " " + words.Say(ctx, "sizepage.may", "gauges", may)
	}
	return text
}

// mayMeet names the gauges whose range holds the need.
func mayMeet(judged []flow.Judgement) string {
	var gauges []string
	for _, j := range judged {
		if j.Verdict == flow.MayMeet {
			gauges = append(gauges, line.Gauge(j.Cannula.Gauge()).String())
		}
	}
	return strings.Join(gauges, ", ")
}

// Needed is the hospital's sizes held against a need; none where nothing is needed.
type Needed struct {
	Need   line.Need
	Judged []flow.Judgement
}

func (n Needed) meets(ctx context.Context) string {
	args := []any{"need", line.Number(audit.NeedOf(n.Need).Flow), "for", audit.PurposeOf(n.Need)}
	if fits := flow.Thinnest(n.Judged); fits != 0 {
		return words.Say(ctx, "placeneed.meets", append(args, "gauge", line.Gauge(fits))...)
	}
	return words.Say(ctx, "placeneed.none", args...)
}

// closer is where a size is chosen for the same need.
func (n Needed) closer() string {
	q := url.Values{"for": {audit.PurposeOf(n.Need).String()}, "flow": {strconv.Itoa(n.Need.MillilitresPerHour)}, "unit": {"ml-h"}}
	return "/choose-size?" + q.Encode()
}

// table is a row for each gauge.
func (a sizeAnswer) table(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "sizepage.sizes")}
	columns := []string{"size", "flow"}
	if a.contrast() {
		t.Caption, columns = words.Say(ctx, "sizepage.injected"), []string{"size", "given"}
	} else {
		if a.Volume > 0 {
			columns = append(columns, "time")
		}
		columns = append(columns, "limits")
	}
	if a.Need > 0 {
		columns = append(columns, "verdict")
	}
	for _, c := range columns {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "sizepage.col-"+c, "volume", float64(a.Volume))})
	}
	for i := range a.Rows {
		r := &a.Rows[i]
		if r.Unknown() {
			continue
		}
		row := TableRow{Cells: []Cell{{Body: sizeHub(r)}}}
		for _, c := range columns[1:] {
			row.Cells = append(row.Cells, a.cell(ctx, r, c))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// unknown names the gauges of which too little is known to say anything.
func (a sizeAnswer) unknown(ctx context.Context) string {
	var gauges []string
	for i := range a.Rows {
		if r := &a.Rows[i]; r.Unknown() {
			gauges = append(gauges, r.Gauge.String())
		}
	}
	if gauges == nil {
		return ""
	}
	return words.Say(ctx, "sizepage.unknown", "gauges", strings.Join(gauges, ", "))
}

func (a sizeAnswer) cell(ctx context.Context, r *desk.SizeRow, column string) Cell {
	if column == "given" && r.Err == nil {
		return Cell{Text: given(ctx, r.Judged)}
	}
	switch {
	case r.Err != nil && (column == "flow" || column == "given"):
		return Cell{Text: words.Tell(ctx, desk.NoFlowAnswer(r.Err))}
	case r.Err != nil:
		return Cell{Text: "–"}
	}
	switch column {
	case "flow":
		return Cell{Body: flowRange(words.Say(ctx, "sizepage.range", "flow", r.Answer.Flow, "lower", r.Answer.Lower, "upper", r.Answer.Upper), a.bar(r))}
	case "time":
		likely, soonest, latest := r.Answer.Time(a.Volume)
		return Cell{Text: words.Say(ctx, "sizepage.time", "likely", runsIn(ctx, likely), "soonest", runsIn(ctx, soonest), "latest", runsIn(ctx, latest))}
	case "limits":
		return Cell{Text: words.Say(ctx, "flow.part."+r.Answer.Limits().String())}
	}
	return Cell{Body: sizeVerdict(verdict(ctx, r.Judged), r.Findings)}
}

// given is what injectors have given, in mL/s.
func given(ctx context.Context, j flow.Judgement) string {
	if math.IsInf(float64(j.Upper), 1) {
		return words.Say(ctx, "sizepage.given-open", "lower", j.Lower/60)
	}
	return words.Say(ctx, "sizepage.given", "lower", j.Lower/60, "upper", j.Upper/60)
}

// runsIn is a time no finer than its flow is known.
func runsIn(ctx context.Context, d time.Duration) string {
	if d < 10*time.Minute {
		return words.Say(ctx, "sizepage.short-time", "minutes", words.Decimal(ctx, d.Minutes(), 1))
	}
	return words.Span(ctx, d.Round(time.Minute))
}

func verdict(ctx context.Context, j flow.Judgement) string {
	switch j.Verdict {
	case flow.BelowNeed:
		return words.Say(ctx, "sizepage.verdict.below")
	case flow.MayMeet:
		return words.Say(ctx, "sizepage.verdict.may")
	case flow.Meets:
		return words.Say(ctx, "sizepage.verdict.meets")
	case flow.Wider:
		return words.Say(ctx, "sizepage.verdict.wider", "n", j.Spare)
	}
	return "–"
}

// bar is a range on the scale that all rows share, in units of a 200 wide box.
type bar struct{ lower, likely, upper, need string }

// barWidth is the scale's length, of the 200 units of the box.
const barWidth = 196.0

func (a sizeAnswer) bar(r *desk.SizeRow) bar {
	most := a.Need
	for i := range a.Rows {
		if a.Rows[i].Answered() {
			most = max(most, a.Rows[i].Answer.Upper)
		}
	}
	x := func(q flow.MillilitresPerMinute) string {
		return strconv.FormatFloat(2+barWidth*float64(q/most), 'f', 1, 64)
	}
	b := bar{x(r.Answer.Lower), x(r.Answer.Flow), x(r.Answer.Upper), ""}
	if a.Need > 0 {
		b.need = x(a.Need)
	}
	return b
}

// pressure draws where the pressure goes in the cannula looked at.
func (a sizeAnswer) pressure(ctx context.Context) ChartFigure {
	var parts []chart.Part
	var said []string
	for _, p := range a.Look.Answer.Parts {
		name, figure := words.Say(ctx, "flow.part."+p.Part.String()), inPercent(ctx, p.Share)
		parts = append(parts, chart.Part{Name: name, Value: p.Share, Figure: figure})
		said = append(said, words.Say(ctx, "sizepage.share", "part", name, "share", figure))
	}
	f := ChartFigure{
		Name: "pressure", Title: words.Say(ctx, "sizepage.pressure-goes", "gauge", a.Look.Gauge),
		Reading: []line.Message{
			line.Say("sizepage.pressure-reads", "shares", strings.Join(said, ", ")),
			line.Say("size.limits", "part", line.Say("flow.part."+a.Look.Answer.Limits().String())),
			line.Say("size.fourth-power", "flow", a.Look.Answer.FourthPower),
		},
	}
	f.Chart = chart.Shares{About: chart.About{ID: "chart-pressure", Title: f.Title, Desc: f.reads(ctx)}, Parts: parts}
	return f
}

// sources are where the figures come from.
func (a sizeAnswer) sources(ctx context.Context) []string {
	if a.contrast() {
		return []string{words.Say(ctx, "sizepage.injected-source")}
	}
	list := []string{words.Say(ctx, "sizepage.usual-conditions"), words.Say(ctx, "sizepage.packs")}
	add := func(what string, s flow.Source) {
		source := s.Name
		if s.Remembered {
			source = words.Say(ctx, "sizepage.remembered", "source", s.Name)
		}
		list = append(list, words.Say(ctx, "sizepage.source-of", "what", capital(what), "source", source))
	}
	fluid := line.Say("flow.fluid." + a.With.Fluid.String())
	add(words.Say(ctx, "sizepage.source-viscosity", "fluid", fluid), a.With.Fluid.ViscositySource())
	add(words.Say(ctx, "sizepage.source-density", "fluid", fluid), a.With.Fluid.DensitySource())
	for _, f := range a.With.Fittings() {
		add(tubeWords(ctx, "sizepage.source-fitting", f, "part", line.Say("flow.part."+f.Part().String())), f.Source())
	}
	for i := range a.Rows {
		if r := &a.Rows[i]; r.Answered() {
			add(tubeWords(ctx, "sizepage.source-cannula", r.Answer.Cannula.Fitting, "gauge", r.Gauge), r.Answer.Cannula.Source())
		}
	}
	return list
}

func tubeWords(ctx context.Context, key string, f flow.Fitting, args ...any) string {
	least, likely, most := f.Bore()
	mm := func(d flow.Millimetre) string { return words.Decimal(ctx, float64(d), 2) }
	return words.Say(ctx, key, append(args, "length", float64(f.Length()), "bore", mm(likely), "least", mm(least), "most", mm(most))...)
}
