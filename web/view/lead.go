package view

import (
	"context"
	"fmt"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/words"
)

// People is the accounts.
type People struct {
	Shell      Shell
	Form, Link Form
	House      *desk.House
	Accounts   []account.Account
	Notice     string
	StepRule   account.StepRule
	Backups    desk.Trouble // told here too: it is an administrator's first page
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
	Languages      words.Languages
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
		"percent", inPercent(ctx, p), "lower", inPercent(ctx, s.Lower), "upper", inPercent(ctx, s.Upper))
	if s.Few() {
		text += " " + words.Say(ctx, "ownrecord.few")
	}
	return text
}

func inPercent(ctx context.Context, p float64) string { return fmt.Sprintf("%.0f %%", 100*p) }

func shareTable(ctx context.Context, caption, what string, rows [][2]string) TableData {
	t := TableData{Caption: caption, Columns: []Column{{Label: what}, {Label: words.Say(ctx, "ownrecord.first")}}}
	for _, r := range rows {
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{{Text: r[0]}, {Text: r[1]}}})
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
