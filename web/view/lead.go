package view

import (
	"context"
	"fmt"
	"slices"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/words"
)

// OwnRecord is the person's own attempts.
type OwnRecord struct {
	Shell  Shell
	Record *outcomes.Record
	Offers []string // names as written that wait for the person's answer
	Notice string
}

// People is the accounts.
type People struct {
	Shell      Shell
	Form, Link Form
	House      *desk.House
	Accounts   []account.Account
	Notice     string
}

// AccountForm changes one account.
type AccountForm struct {
	Shell   Shell
	Form    Form
	Account account.Account
}

// WardValues is the wards with their values.
type WardValues struct {
	Shell          Shell
	Form, Hospital Form
	House          *desk.House
	Notice         string
}

// WardForm changes one ward.
type WardForm struct {
	Shell Shell
	Form  Form
}

// shareWords says a share with its interval and its n.
func shareWords(ctx context.Context, s outcomes.Share) string {
	p, ok := s.Proportion()
	if !ok {
		return words.Say(ctx, "ownrecord.none")
	}
	text := words.Say(ctx, "ownrecord.share", "x", s.Successes, "total", s.N,
		"percent", inPercent(p), "lower", inPercent(s.Lower), "upper", inPercent(s.Upper))
	if s.Few() {
		text += " " + words.Say(ctx, "ownrecord.few")
	}
	return text
}

func inPercent(p float64) string { return fmt.Sprintf("%.0f %%", 100*p) }

func shareTable(ctx context.Context, caption, what string, rows [][2]string) TableData {
	t := TableData{Caption: caption, Columns: []Column{{Label: what}, {Label: words.Say(ctx, "ownrecord.first")}}}
	for _, r := range rows {
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{{Text: r[0]}, {Text: r[1]}}})
	}
	return t
}

func (p OwnRecord) by(ctx context.Context, by outcomes.By) [][2]string {
	var rows [][2]string
	for _, part := range p.Record.By(by, outcomes.PerOccasion, outcomes.Names{}) {
		rows = append(rows, [2]string{words.Say(ctx, "outcomes.group-name", "label", part.Label), shareWords(ctx, part.Share)})
	}
	return rows
}

func (p OwnRecord) faults(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "ownrecord.faults"), Columns: []Column{{Label: words.Say(ctx, "ownrecord.fault")}, {Label: words.Say(ctx, "ownrecord.times"), Num: true}}}
	for _, f := range p.Record.Faults() {
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{{Text: words.Say(ctx, f.Fault.Word())}, {Text: count(f.N)}}})
	}
	return t
}

// mostRecent is how many attempts are listed.
const mostRecent = 20

func (p OwnRecord) recent(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "ownrecord.recent"), Columns: []Column{
		{Label: words.Say(ctx, "ownrecord.when")}, {Label: words.Say(ctx, "auditpage.line")}, {Label: words.Say(ctx, "ownrecord.result")},
	}}
	tried := p.Record.Tried
	for _, a := range slices.Backward(tried[max(0, len(tried)-mostRecent):]) {
		result := words.Say(ctx, "act.placed")
		if a.Failed {
			result = words.Say(ctx, a.Fault.Word())
		}
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{
			{Text: words.Say(ctx, "line.at", "at", a.At)}, {Text: a.Gauge.String() + " " + SiteAndSide(ctx, a.Site, a.Side)}, {Text: result},
		}})
	}
	return t
}

func (p People) table(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "people.title"), Columns: []Column{
		{Label: words.Say(ctx, "people.name")}, {Label: words.Say(ctx, "signin.name")}, {Label: words.Say(ctx, "people.role")},
	}}
	for _, a := range p.Accounts {
		t.Rows = append(t.Rows, TableRow{Struck: a.Closed, Cells: []Cell{
			{Text: a.Name, Href: "/people/" + a.ID}, {Text: a.SignIn}, {Text: words.Say(ctx, a.Role.Word())},
		}})
	}
	return t
}

func roles(ctx context.Context) []Option {
	var all []Option
	for _, r := range account.Roles {
		all = append(all, Option{Value: string(r), Label: words.Say(ctx, r.Word())})
	}
	return all
}

func (p People) operators() []Option {
	var all []Option
	for _, a := range p.Accounts {
		if !a.Closed && a.May(account.SeeOwnRecord) {
			all = append(all, Option{Value: a.ID, Label: a.Name})
		}
	}
	return all
}

func (p WardValues) table(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "wardvalues.list"), Columns: []Column{
		{Label: words.Say(ctx, "wardvalues.name")}, {Label: words.Say(ctx, "setup.zone")}, {Label: words.Say(ctx, "wardvalues.beds"), Num: true},
	}}
	for _, w := range p.House.Wards {
		t.Rows = append(t.Rows, TableRow{Struck: w.Closed, Cells: []Cell{
			{Text: w.Name, Href: "/ward-values/" + string(w.Ward.Ward)}, {Text: w.Zone}, {Text: count(len(w.Beds))},
		}})
	}
	return t
}
