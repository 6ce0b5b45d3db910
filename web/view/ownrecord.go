package view

import (
	"context"
	"slices"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/words"
)

// OwnRecord is the person's own attempts.
type OwnRecord struct {
	Shell    Shell
	Record   *outcomes.Record
	Waiting  []line.Tried // somebody else recorded them; oldest first
	Declined []line.Tried // not theirs, the person said
	Sharing  Sharing
	House    *desk.House
	Offers   []string // names as written that wait for the person's answer
	Notice   string

	Progress *desk.Progress
	By       outcomes.By // what success is parted by
	Asked    Form        // what the page was asked to show
	Path     string      // of the page
	At       line.Minute
}

// Sharing is who may read copies of the person's record, and whose the person may read.
type Sharing struct {
	Form            Form
	House           *desk.House
	Given, Received []line.SharedRecord
	Looks           []account.Access
	Readers         []account.Account // to share with
}

// SharedRecord is a copy of somebody's record.
type SharedRecord struct {
	OwnRecord
	line.SharedRecord
	Own bool // the reader's
}

// waitingOccasion is what one entry says of the person's attempts.
type waitingOccasion struct {
	version, line line.ID
	at            line.Minute
	author        string
	attempts      []string
}

// mostWaiting is how many occasions are asked about on one page, and askedAtOnce
// how many of them stand open, so that the record itself stays in sight.
const (
	mostWaiting = 20
	askedAtOnce = 2
)

// waiting are the occasions to be answered for, the latest first.
func (p OwnRecord) waiting(ctx context.Context) []waitingOccasion { return p.occasions(ctx, p.Waiting) }

// occasions are attempts by the entry that tells of them, the latest first.
func (p OwnRecord) occasions(ctx context.Context, tried []line.Tried) []waitingOccasion {
	var list []waitingOccasion
	for _, t := range slices.Backward(tried) {
		what := attemptResult(ctx, t)
		if n := len(list); n > 0 && list[n-1].version == t.Version {
			list[n-1].attempts = append([]string{what}, list[n-1].attempts...)
			continue
		}
		if len(list) == mostWaiting {
			break
		}
		list = append(list, waitingOccasion{
			version: t.Version, line: t.LineID, at: t.At, author: p.House.NameOf(t.Author), attempts: []string{what},
		})
	}
	return list
}

// attemptResult says of an attempt where it was and how it went.
func attemptResult(ctx context.Context, t line.Tried) string {
	result := words.Say(ctx, "act.placed")
	if t.Failed {
		result = words.Say(ctx, t.Fault.Word())
	}
	return words.Say(ctx, "ownrecord.attempt", "no", t.No, "total", t.Of, "where", SiteAndSide(ctx, t.Site, t.Side), "gauge", t.Gauge.String(), "result", result)
}

// readers are those a record can be shared with.
func (p Sharing) readers(ctx context.Context) []Option {
	all := make([]Option, len(p.Readers))
	for i, a := range p.Readers {
		all[i] = Option{Value: a.ID, Label: words.Say(ctx, "ownrecord.reader", "name", a.Name, "role", words.Say(ctx, a.Role.Word()))}
	}
	return all
}

// copied is the moment a copy was made, in full.
func copied(ctx context.Context, h *desk.House, s line.SharedRecord) string {
	return words.To(ctx).In(h.Zone).Stamp(s.At)
}

func (p OwnRecord) by(ctx context.Context, by outcomes.By) [][2]string {
	var rows [][2]string
	for _, part := range p.Record.By(by, outcomes.PerOccasion, outcomes.Names{}) {
		rows = append(rows, [2]string{words.Say(ctx, "outcomes.group-name", "label", part.Label), shareWords(ctx, part.Share)})
	}
	return rows
}

// mostRecent is how many attempts are listed.
const mostRecent = 20

func (p OwnRecord) recent(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "ownrecord.recent"), Columns: []Column{
		{Label: words.Say(ctx, "ownrecord.when")}, {Label: words.Say(ctx, "auditpage.line")}, {Label: words.Say(ctx, "ownrecord.result")},
	}}
	tried := p.Record.Tried
	return p.attempts(ctx, t, tried[max(0, len(tried)-mostRecent):])
}

// every is all attempts, the latest first.
func (p OwnRecord) every(ctx context.Context) TableData {
	return p.attempts(ctx, TableData{Caption: words.Say(ctx, "learningpage.every"), Columns: []Column{
		{Label: words.Say(ctx, "ownrecord.when")}, {Label: words.Say(ctx, "auditpage.line")}, {Label: words.Say(ctx, "ownrecord.result")},
	}}, p.Record.Tried)
}

func (p OwnRecord) attempts(ctx context.Context, t TableData, tried []line.Tried) TableData {
	clock := words.To(ctx).In(p.House.Zone)
	for _, a := range slices.Backward(tried) {
		result := words.Say(ctx, "act.placed")
		if a.Failed {
			result = words.Say(ctx, a.Fault.Word())
		}
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{
			{Text: clock.Stamp(a.At)}, {Text: a.Gauge.String() + " " + SiteAndSide(ctx, a.Site, a.Side)}, {Text: result},
		}})
	}
	return t
}
