package view

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"time"

	"github.com/a-h/templ"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// Wards is the list of wards.
type Wards struct {
	Shell  Shell
	Notice string
	Boards []*desk.Board
}

// WardBoard is one ward's page.
type WardBoard struct {
	Shell  Shell
	Board  *desk.Board
	ByBed  bool
	Notice string
	Region templ.Component // the board itself, drawn before
}

// SeverityOf is a finding's severity as the components name it.
func SeverityOf(s audit.Severity) Severity {
	switch s {
	case audit.ActNow:
		return ActNow
	case audit.Due:
		return Due
	}
	return Advise
}

// FindingsData puts findings into words; full adds what the policy says and its source.
func FindingsData(ctx context.Context, findings []audit.Finding, full bool) []FindingData {
	var all []FindingData
	for _, f := range findings {
		d := FindingData{Severity: SeverityOf(f.Severity), Text: words.Tell(ctx, f.Why)}
		if full {
			d.Detail, d.Source = words.Tell(ctx, f.Do), f.Source
		}
		all = append(all, d)
	}
	return all
}

// SiteAndSide is a site with its side, in words.
func SiteAndSide(ctx context.Context, site line.Site, side line.Side) string {
	if side == 0 {
		return words.Say(ctx, site.Word())
	}
	return words.Say(ctx, "line.site-side", "site", site, "side", side)
}

func pairs(stretches []line.Stretch, until line.Minute) [][2]int64 {
	var all [][2]int64
	for _, s := range stretches {
		all = append(all, [2]int64{int64(s.From), int64(min(s.Until, until))})
	}
	return all
}

func numbers(minutes []line.Minute, after line.Minute) []int64 {
	var all []int64
	for _, m := range minutes {
		if m >= after {
			all = append(all, int64(m))
		}
	}
	return all
}

// stripOf is a row's strip on the axis.
func stripOf(ctx context.Context, r desk.Row, axis line.Stretch, nights []line.Stretch, now line.Minute) StripData {
	return StripData{
		From: int64(axis.From), To: int64(axis.Until), Nights: pairs(nights, axis.Until), Placed: int64(r.Placed), PlacedKnown: r.Known,
		Now: int64(now), Looks: numbers(r.Looks, axis.From), Dressings: numbers(r.Dressing, axis.From), Overdue: pairs(r.NoLook, now),
		Quiet: r.StillIn, Title: words.Say(ctx, "board.strip", "dwell", dwell(ctx, r, now), "n", len(r.Looks), "overdue", len(r.NoLook)),
	}
}

func dwell(ctx context.Context, r desk.Row, now line.Minute) string {
	if !r.Known {
		return words.Say(ctx, "board.at-least", "span", now.Sub(r.Placed))
	}
	return words.Say(ctx, "board.in", "span", now.Sub(r.Placed))
}

// next is what falls due next, or since when something is overdue.
func next(ctx context.Context, b *desk.Board, r desk.Row) (string, NextKind) {
	if r.StillIn {
		return "", NextLater
	}
	for _, f := range r.Findings {
		if f.IsDuty && f.Severity != audit.Advise {
			return words.Say(ctx, "overdue."+string(f.Rule), "since", f.Since, "span", f.Overdue), NextOverdue
		}
	}
	if r.Next == nil {
		return "", NextLater
	}
	text := nextWords(ctx, r.Next)
	if r.Next.Due < b.Shift.Until {
		return text, NextSoon
	}
	return text, NextLater
}

// boardRows are the rows of a board as they are drawn.
func boardRows(ctx context.Context, b *desk.Board, byBed bool) []Row {
	lines := slices.Clone(b.Rows)
	if byBed {
		place := map[line.Key]int{}
		for i, p := range b.Patients {
			place[p.Key] = i
		}
		slices.SortStableFunc(lines, func(x, y desk.Row) int { return cmp.Compare(place[x.Patient.Key], place[y.Patient.Key]) })
	}
	rows := make([]Row, len(lines))
	for i, l := range lines {
		rows[i] = boardRow(ctx, b, l)
	}
	return rows
}

// boardRow is one line: what is due is said, advice is only a count that opens.
func boardRow(ctx context.Context, b *desk.Board, l desk.Row) Row {
	id := string(l.Line.ID)
	row := Row{
		ID: "line-" + id, Bed: l.Patient.Bed, Patient: reference(ctx, l.Patient),
		PatientHref: "/patients/" + string(l.Patient.ID), LineHref: "/lines/" + id,
		Gauge: int(l.Line.Gauge), GaugeLabel: hubWord(ctx, l.Line.Gauge),
		Place: SiteAndSide(ctx, l.Line.Site, l.Line.Side), Strip: stripOf(ctx, l, b.Axis, b.Nights, b.At), Dwell: dwell(ctx, l, b.At),
		ActionHref: "/lines/" + id + "/review", Action: words.Say(ctx, "board.review"),
	}
	row.Next, row.NextKind = next(ctx, b, l)
	if l.Next != nil {
		row.Due = l.Next.Due.Time().Format(time.RFC3339)
	}
	if l.StillIn {
		row.Question = stillIn(ctx, l)
		return row
	}
	due, advice := parted(l.Findings)
	row.Findings, row.Advice = FindingsData(ctx, due, false), FindingsData(ctx, advice, true)
	switch {
	case len(due) > 0:
		row.Severity = SeverityOf(due[0].Severity)
	case len(advice) == 0:
		row.NoFinding = words.Say(ctx, "board.no-finding")
	}
	return row
}

// parted are the findings that are due, and those that only advise.
func parted(findings []audit.Finding) (due, advice []audit.Finding) {
	for _, f := range findings {
		if f.Severity == audit.Advise {
			advice = append(advice, f)
		} else {
			due = append(due, f)
		}
	}
	return due, advice
}

// stillIn asks after a line of which nothing was recorded for long.
func stillIn(ctx context.Context, l desk.Row) string {
	if len(l.Looks) == 0 {
		return words.Say(ctx, "board.still-in-never")
	}
	return words.Say(ctx, "board.still-in", "last", slices.Max(l.Looks))
}

func reference(ctx context.Context, p line.Patient) string {
	if p.Reference == "" {
		return words.Say(ctx, "patient.unidentified")
	}
	return p.Reference
}

// axisOf labels the days on the strips' axis.
func axisOf(ctx context.Context, b *desk.Board) StripAxis {
	a := StripAxis{From: int64(b.Axis.From), To: int64(b.Axis.Until), Now: int64(b.At), NowLabel: words.Say(ctx, "board.now")}
	day := b.Axis.From.Time().In(b.Ward.Location)
	for {
		day = time.Date(day.Year(), day.Month(), day.Day()+1, 0, 0, 0, 0, b.Ward.Location)
		m := line.MinuteOf(day)
		if m >= b.At {
			return a
		}
		a.Marks = append(a.Marks, AxisMark{At: int64(m), Label: day.Format("Mon")})
	}
}

func count(n int) string { return strconv.Itoa(n) }

func boardFigures(ctx context.Context, b *desk.Board) []Figure {
	return []Figure{
		{Number: count(b.ActNow), Label: words.Say(ctx, "board.act-now"), Wrong: b.ActNow > 0},
		{Number: count(b.DueNow), Label: words.Say(ctx, "board.due-now"), Wrong: b.DueNow > 0},
		{Number: count(b.DueShift), Label: words.Say(ctx, "board.due-shift")},
		{Number: count(b.LinesIn), Label: words.Say(ctx, "board.lines-in")},
		{Number: count(b.StillIn), Label: words.Say(ctx, "board.still-in-count")},
	}
}

// withoutLine are the patients on the ward who have no line in.
func withoutLine(b *desk.Board) []line.Patient {
	has := map[line.Key]bool{}
	for _, r := range b.Rows {
		has[r.Patient.Key] = true
	}
	return slices.DeleteFunc(slices.Clone(b.Patients), func(p line.Patient) bool { return has[p.Key] })
}

// withLine are those who have one, once each.
func withLine(b *desk.Board) []line.Patient {
	has := map[line.Key]bool{}
	for _, r := range b.Rows {
		has[r.Patient.Key] = true
	}
	return slices.DeleteFunc(slices.Clone(b.Patients), func(p line.Patient) bool { return !has[p.Key] })
}

// BoardState names what a board shows: it differs once something on the ward
// was recorded or fell due.
func BoardState(b *desk.Board) string {
	return strconv.FormatUint(b.Version, 10) + "-" + strconv.FormatInt(int64(b.Next), 10)
}

func boardLive(b *desk.Board, byBed bool) Live {
	page := "/wards/" + string(b.Ward.Ward.Ward)
	live := Live{Stream: page + "/changes?seen=" + BoardState(b), Page: page}
	if byBed {
		live.Page += "?order=bed"
	}
	return live
}

// hubWord is the colour of a gauge's hub, in words.
func hubWord(ctx context.Context, g line.Gauge) string {
	if g.Colour() == "" {
		return ""
	}
	return words.Say(ctx, "kit.hub."+g.Colour())
}

// nextWords says which duty falls due next, and when.
func nextWords(ctx context.Context, d *audit.Duty) string {
	return words.Say(ctx, "next."+string(d.Rule), "due", d.Due)
}
