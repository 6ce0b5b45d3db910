package view

import (
	"context"
	"fmt"
	"strings"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// The steps of setting up a hospital, and where they start.
const (
	BeginPath     = "/begin"
	BeginHospital = "/begin/hospital"
	BeginWards    = "/begin/wards"
	BeginStaff    = "/begin/staff"
)

// InvitationPath is the start of a one-time link's path; account and token follow.
const InvitationPath = "/welcome/"

// Begin is one step of setting up a hospital; the form's action says which.
type Begin struct {
	Shell     Shell
	Form      Form
	House     *desk.House
	Rows      []ListedLine // what the pasted list will make
	Only      string       // the address that links will start with, where only this computer reaches it
	Notice    string
	Languages words.Languages
}

// ListedLine is what one line of a pasted list will make: a ward or a person.
type ListedLine struct {
	No     int
	Ward   *line.Ward
	Person *desk.NewAccount
	Wrong  string // what is wrong with it; empty: nothing
}

// Invitations are one-time links to be handed out.
type Invitations struct {
	Shell Shell
	Slips []Slip
	Only  string // the address, where only this computer reaches it
}

// Slip is one person's one-time link.
type Slip struct {
	Account account.Account
	Address string
	Until   line.Minute
	QR      QR
}

// Invitation is the page where a person chooses their first passphrase.
type Invitation struct {
	Shell   Shell
	Form    Form
	Account account.Account
}

type beginStep struct{ href, key string }

var beginSteps = []beginStep{{BeginHospital, "begin.hospital"}, {BeginWards, "begin.wards"}, {BeginStaff, "begin.staff"}}

// ready reports whether every line of the list can be made.
func (p Begin) ready() bool {
	for _, l := range p.Rows {
		if l.Wrong != "" {
			return false
		}
	}
	return len(p.Rows) > 0
}

// made says what is there already of what the step makes; empty where there is nothing.
func (p Begin) made(ctx context.Context) string {
	switch {
	case p.Form.Action == BeginWards && len(p.House.Wards) > 0:
		var names []string
		for _, w := range p.House.Wards {
			if !w.Closed {
				names = append(names, w.Name)
			}
		}
		return words.Say(ctx, "begin.wards-there", "names", strings.Join(names, ", "))
	case p.Form.Action == BeginStaff:
		return words.Say(ctx, "begin.staff-there", "n", len(p.House.People))
	}
	return ""
}

func (p Begin) table(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "begin.will-make"), Columns: []Column{{Label: words.Say(ctx, "begin.line"), Num: true}}}
	labels := []string{"people.name", "people.role", "signin.name", "people.initials"}
	if p.Form.Action == BeginWards {
		labels = []string{"wardvalues.name", "wardvalues.beds", "wardvalues.shifts"}
	}
	for _, key := range append(labels, "begin.to-mend") {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, key)})
	}
	for _, l := range p.Rows {
		row := TableRow{Cells: []Cell{{Text: count(l.No)}}}
		for _, text := range append(l.cells(ctx), or(l.Wrong, words.Say(ctx, "begin.nothing-wrong"))) {
			row.Cells = append(row.Cells, Cell{Text: text})
		}
		if l.Wrong != "" {
			row.Severity = Due
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func (l ListedLine) cells(ctx context.Context) []string {
	if l.Ward != nil {
		return []string{l.Ward.Name, bedsWords(ctx, l.Ward.Beds), shiftsWords(ctx, l.Ward.Shifts)}
	}
	role := ""
	if l.Person.Role.Valid() {
		role = words.Say(ctx, l.Person.Role.Word())
	}
	return []string{l.Person.Name, role, strings.ToLower(l.Person.SignIn), l.Person.Initials}
}

func bedsWords(ctx context.Context, beds []string) string {
	switch n := len(beds); {
	case n == 0:
		return words.Say(ctx, "begin.no-beds")
	case n <= 6:
		return words.Say(ctx, "begin.beds", "n", n, "names", strings.Join(beds, ", "))
	default:
		return words.Say(ctx, "begin.beds", "n", n, "names", beds[0]+", "+beds[1]+", … "+beds[n-1])
	}
}

func shiftsWords(ctx context.Context, shifts []line.ShiftTime) string {
	if len(shifts) == 0 {
		return words.Say(ctx, "begin.policy-shifts")
	}
	return ShiftTimes(shifts)
}

// ShiftTimes writes times of day as they are typed: 07:30, 19:30.
func ShiftTimes(shifts []line.ShiftTime) string {
	var said []string
	for _, t := range shifts {
		said = append(said, fmt.Sprintf("%02d:%02d", t/60, t%60))
	}
	return strings.Join(said, ", ")
}
