package view

import (
	"context"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/words"
)

// Act is the form of one act.
type Act struct {
	Shell          Shell
	Form           Form
	Path           string // which act
	House          *desk.House
	Ward           desk.Ward
	Patient        line.Patient
	Line           *line.Current // nil: of the patient
	Lines          []line.Current
	Subject        line.Subject
	Rules          []line.Rule // that can be answered
	Attempts       []string    // numbers of the rows
	Advice         PlaceAdvice
	Now            line.Minute
	Was            url.Values // a correction's: the form of what was recorded; nil: the entry is new
	Beds           []desk.Bed // to choose from; empty: the bed is typed
	BedsOf         line.ID
	InTheWay       []desk.Obstacle
	Reader         line.ID // who the form is for
	AsksDifficulty bool    // the policy has the difficulty of the vein asked
}

// PlaceAdvice is what is told beside the choice of a line before it is recorded.
type PlaceAdvice struct {
	Needed   Needed
	Findings []audit.Finding
	Known    bool               // site and gauge are chosen, so the findings are all
	Here     *line.Message      // how such lines have lasted here; nil: not chosen yet
	Evidence *outcomes.Evidence // of every site; nil: it cannot be had
}

// Correcting reports whether the form replaces an entry.
func (p Act) Correcting() bool { return p.Was != nil }

// Void is the form that withdraws an entry.
type Void struct {
	Shell    Shell
	Form     Form
	House    *desk.House
	Entry    line.Entry
	Back     string
	Reader   line.ID
	InTheWay []desk.Obstacle
}

// options are a vocabulary's words to choose from.
func options[V line.Vocabulary](ctx context.Context, like line.Code[V]) []Option {
	var all []Option
	for _, c := range like.All() {
		all = append(all, Option{Value: c.String(), Label: words.Say(ctx, c.Word())})
	}
	return all
}

// orNone puts an empty answer first.
func orNone(ctx context.Context, all []Option) []Option {
	return append([]Option{{Value: "", Label: words.Say(ctx, "act.not-said")}}, all...)
}

// field names one field with its label and what is wrong with it.
func (p Act) field(ctx context.Context, name string) Field {
	return Field{Name: name, Label: words.Say(ctx, "act.field."+name), Error: p.Form.Error(name)}
}

func (p Act) needed(ctx context.Context, name string) Field {
	f := p.field(ctx, name)
	f.Required = p.asks(name)
	return f
}

func (p Act) optional(ctx context.Context, name string) Field {
	f := p.field(ctx, name)
	f.Optional = true
	return f
}

// asks reports whether a needed answer is asked for: a correction may leave
// out what the entry did not have.
func (p Act) asks(name string) bool { return !p.Correcting() || p.Was.Get(name) != "" }

// limbLabel tells the further rows for limbs to spare from the first.
func limbLabel(ctx context.Context, n string) string {
	if n == "0" {
		return words.Say(ctx, "act.field.limb")
	}
	return words.Say(ctx, "act.another-limb")
}

// limbRows are the numbers of the rows for limbs to spare, one of them empty.
func (p Act) limbRows() []string {
	rows := []string{"0"}
	for i := 1; p.Form.Get("limb-"+strconv.Itoa(i-1)) != ""; i++ {
		rows = append(rows, strconv.Itoa(i))
	}
	return rows
}

// beds are the beds to choose from, each with who lies in it.
func (p Act) beds(ctx context.Context) []Option {
	all := make([]Option, 0, len(p.Beds)+1)
	here := false
	for _, b := range p.Beds {
		who := words.Say(ctx, "act.bed-free")
		var names []string
		for _, in := range b.Patients {
			switch {
			case in.ID == p.Patient.ID:
				names = append(names, words.Say(ctx, "act.bed-own"))
			case in.Reference == "":
				names = append(names, words.Say(ctx, "act.bed-unknown"))
			default:
				names = append(names, in.Reference)
			}
		}
		if names != nil {
			who = strings.Join(names, ", ")
		}
		all = append(all, Option{Value: b.Name, Label: b.Name + ": " + who})
		here = here || b.Name == p.Form.Get("bed")
	}
	if typed := p.Form.Get("bed"); typed != "" && !here {
		all = append(all, Option{Value: typed, Label: typed})
	}
	return all
}

func (p Act) when(ctx context.Context) TimeValue {
	f := p.Form
	return TimeValue{
		How: f.Get("when"), Ago: f.Get("when-ago"), Date: f.Get("when-date"), Clock: f.Get("when-clock"), Fold: f.Get("when-fold"),
		AllowDay: p.Path == "place" || f.Get("when") == "day", AllowUnknown: p.Path == "place" || f.Get("when") == "unknown",
		Twice: f.Error("when") == words.Say(ctx, "act.time-twice") || f.Get("when-fold") != "",
	}
}

// limits are the limbs to be spared now.
func (p Act) limits() []string {
	var limbs []string
	for _, l := range p.Subject.Limits {
		if l.Holds(p.Now) && !slices.Contains(limbs, l.Limb.String()) {
			limbs = append(limbs, l.Limb.String())
		}
	}
	return limbs
}

func (p Act) place() Place {
	side := p.Form.Get("side")
	return Place{
		Site: p.Form.Get("site"), Side: side, SiteError: p.Form.Error("site"), SideError: p.Form.Error("side"), Limits: p.limits(),
	}
}

func (p Act) wards() []Option {
	var all []Option
	for _, w := range p.House.Wards {
		if !w.Closed || string(w.Ward.Ward) == p.Was.Get("ward") {
			all = append(all, Option{Value: string(w.Ward.Ward), Label: w.Name})
		}
	}
	return all
}

// placed reports whether the corrected entry names the account as an operator.
func (p Act) placed(id string) bool {
	for name, values := range p.Was {
		if (strings.HasSuffix(name, ".operator") || name == "supervisor") && slices.Contains(values, id) {
			return true
		}
	}
	return false
}

// operators are the people who place lines.
func (p Act) operators(ctx context.Context) []Option {
	var all []Option
	for id, a := range p.House.People {
		if !a.Closed && a.Role != "administrator" || p.placed(string(id)) {
			all = append(all, Option{Value: string(id), Label: a.Name})
		}
	}
	slices.SortFunc(all, func(a, b Option) int {
		if a.Label < b.Label {
			return -1
		}
		return 1
	})
	return orNone(ctx, all)
}

func (p Act) rules(ctx context.Context) []Option {
	var all []Option
	for _, r := range p.Rules {
		all = append(all, Option{Value: string(r), Label: words.Say(ctx, r.Word())})
	}
	return all
}

func (p Act) results(ctx context.Context) []Option {
	return append([]Option{{Value: "placed", Label: words.Say(ctx, "act.placed")}}, options(ctx, line.NoFlashback)...)
}

// as is the answer "as for the line", before the others.
func as(ctx context.Context, all []Option) []Option {
	return append([]Option{{Value: "", Label: words.Say(ctx, "act.as-line")}}, all...)
}

func gauges() []Option {
	var all []Option
	for _, g := range line.Gauges {
		all = append(all, Option{Value: strconv.Itoa(int(g)), Label: g.String()})
	}
	return all
}

// asksDifficulty reports whether an attempt's row asks about the vein: by the
// policy, and where something is ticked already.
func (p Act) asksDifficulty(n string) bool {
	name := "attempt." + n + ".difficulty"
	return p.AsksDifficulty || p.Form.Values[name] != nil || p.Was[name] != nil
}

// differs reports whether an attempt's row says something other than the line's.
func (p Act) differs(n string) bool {
	row := "attempt." + n + "."
	return p.Form.Get(row+"site") != "" || p.Form.Get(row+"side") != "" || p.Form.Get(row+"gauge") != ""
}

func (p Act) back() string {
	switch {
	case p.Line != nil:
		return "/lines/" + string(p.Line.ID)
	case p.Patient.ID != "":
		return "/patients/" + string(p.Patient.ID)
	}
	return "/wards/" + string(p.Ward.Ward.Ward)
}

func (p Act) about(ctx context.Context) string {
	switch {
	case p.Line != nil:
		return words.Say(ctx, "board.bed", "bed", p.Patient.Bed) + ", " + SiteAndSide(ctx, p.Line.Site, p.Line.Side)
	case p.Patient.ID != "":
		return words.Say(ctx, "board.bed", "bed", p.Patient.Bed)
	}
	return words.Say(ctx, "ward.name", "name", p.Ward.Name)
}

// comma is the patient's reference, after a comma; nothing where there is none.
func (p Act) comma() string {
	if p.Patient.Reference == "" {
		return ""
	}
	return ", " + p.Patient.Reference
}

// ofLine is a field of one of the lines that a discharge asks about.
func (p Act) ofLine(ctx context.Context, name string, id line.ID) Field {
	f := Field{Name: name + "." + string(id), Label: words.Say(ctx, "act.field.line-"+name)}
	f.Error, f.Required = p.Form.Error(f.Name), name == "answer" && p.asks(f.Name)
	return f
}

// bedHint is the field of the beds, with the ward they are of.
func (p Act) bedHint(ctx context.Context) Field {
	f := p.field(ctx, "bed")
	w, _ := p.House.Ward(p.BedsOf)
	f.Hint = words.Say(ctx, "act.beds-hint", "ward", w.Name)
	return f
}

// obstacleValue names an obstacle in a form: the entry and the version seen.
func obstacleValue(o desk.Obstacle) string { return string(o.Root) + "@" + string(o.Seen) }
