package view

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// PolicyEdit is the form of a policy: its fields, its whole text, or a file.
type PolicyEdit struct {
	Shell  Shell
	Form   Form
	Base   *audit.Policy // what the fields are made from
	InHand bool
	Wrong  audit.PolicyErrors
}

// whole reports whether the whole text was typed, not the fields.
func (p PolicyEdit) whole() bool { return p.Form.Values.Has("text") }

// text is the file as it stands in the form.
func (p PolicyEdit) text() string {
	if p.whole() {
		return strings.ReplaceAll(p.Form.Get("text"), "\r\n", "\n")
	}
	return string(p.Base.Text())
}

// value is a field as typed, else as the base has it.
func (p PolicyEdit) value(f audit.Field) string {
	switch {
	case p.whole() || !p.Form.Values.Has("base"):
		return f.Value
	case f.Form == audit.FlagForm && p.Form.Get(f.Key) == "":
		return "false"
	}
	return p.Form.Get(f.Key)
}

// field is how a key stands in the form.
func (p PolicyEdit) field(ctx context.Context, rule line.Rule, f audit.Field) Field {
	shown := Field{Name: f.Key, Label: fieldLabel(ctx, rule, f.Key), Optional: f.Optional}
	switch f.Form {
	case audit.SpanForm, audit.NumberForm, audit.DecimalForm, audit.TimesForm:
		shown.Hint = words.Say(ctx, "policyedit.allowed", "allowed", allowed(ctx, f))
	}
	if !p.whole() {
		for _, e := range p.Wrong {
			if e.Key == f.Key {
				shown.Error = wrongText(ctx, e.Problem, allowed(ctx, f))
			}
		}
	}
	return shown
}

// allowed is what a field can hold, without the quotes of the file.
func allowed(ctx context.Context, f audit.Field) string {
	switch f.Form {
	case audit.TimesForm:
		return words.Say(ctx, "policyedit.times")
	case audit.SentenceForm:
		return words.Say(ctx, "policyedit.sentence")
	}
	return f.Allowed
}

func wrongText(ctx context.Context, problem, allowed string) string {
	return words.Say(ctx, "policyedit.problem", "problem", problem, "allowed", allowed)
}

// problems leads to each field that is wrong, or to the lines of the text.
func (p PolicyEdit) problems(ctx context.Context) []FieldError {
	var list []FieldError
	if e := p.Form.Error("file"); e != "" {
		list = append(list, FieldError{ID: "file", Text: e})
	}
	for _, e := range p.Wrong {
		if p.whole() {
			text := words.Say(ctx, "policyedit.line", "line", e.Line, "key", e.Key, "problem", e.Problem)
			if e.Key == "" {
				text = words.Say(ctx, "policyedit.line-alone", "line", e.Line, "problem", e.Problem)
			}
			if e.Allowed != "" {
				text += " " + words.Say(ctx, "policyedit.allowed", "allowed", e.Allowed)
			}
			list = append(list, FieldError{ID: "text", Text: text})
			continue
		}
		list = append(list, FieldError{ID: e.Key, Text: p.named(ctx, e)})
	}
	return list
}

// named says of which rule and field an error is.
func (p PolicyEdit) named(ctx context.Context, e *audit.PolicyError) string {
	if slices.ContainsFunc(p.Base.Fields(""), func(f audit.Field) bool { return f.Key == e.Key }) {
		return fieldLabel(ctx, "", e.Key) + ": " + e.Problem
	}
	rule, _, _ := strings.Cut(e.Key, ".")
	return words.Say(ctx, line.Rule(rule).Word()) + ", " + fieldLabel(ctx, line.Rule(rule), e.Key) + ": " + e.Problem
}

// open reports whether a rule's fields show at once.
func (p PolicyEdit) open(rule line.Rule) bool {
	return !p.whole() && slices.ContainsFunc(p.Base.Fields(rule), func(f audit.Field) bool {
		return slices.ContainsFunc(p.Wrong, func(e *audit.PolicyError) bool { return e.Key == f.Key })
	})
}

// summary is a rule in a few words, while its fields are folded away.
func (p PolicyEdit) summary(ctx context.Context, rule line.Rule) string {
	var all []string
	for _, f := range p.Base.Fields(rule) {
		f.Value = p.value(f)
		switch short := strings.TrimPrefix(f.Key, string(rule)+"."); {
		case f.Value == "" || f.Form == audit.SentenceForm:
		case short == "on" || short == "severity":
			all = append(all, fieldValue(ctx, f))
		case len(all) < 5:
			all = append(all, fieldLabel(ctx, rule, f.Key)+" "+fieldValue(ctx, f))
		}
	}
	return strings.Join(all, ", ")
}

// textError is that something in the whole text is wrong; the summary says what.
func (p PolicyEdit) textError(ctx context.Context) string {
	if p.whole() && len(p.Wrong) > 0 {
		return words.Say(ctx, "policyedit.text-wrong", "line", p.Wrong[0].Line)
	}
	return ""
}

func choices(ctx context.Context, f audit.Field) []Option {
	list := make([]Option, len(f.Choices))
	for i, c := range f.Choices {
		list[i] = Option{Value: c, Label: choiceWord(ctx, c)}
	}
	return list
}

// FromNow stands for the moment of putting in force.
const FromNow = -1

// PolicyConfirm asks from when a policy is to hold, then whether to go on.
type PolicyConfirm struct {
	Shell         Shell
	Form          Form
	House         *desk.House
	Before, After *audit.Policy
	From          line.Minute // 0: not said yet; FromNow
	Later         []desk.PolicyVersion
	Person        string
	Twice         bool // the moment typed comes twice that night
}

// asked reports whether a moment was said, so that what is left is to be sure.
func (p PolicyConfirm) asked() bool { return p.From != 0 }

func (p PolicyConfirm) when(ctx context.Context) string {
	if p.From == FromNow {
		return words.Say(ctx, "policyconfirm.from-now")
	}
	return words.Say(ctx, "policyconfirm.from-then", "at", stamp(ctx, p.House, p.From))
}

// changedFields lists the figures that differ between two policies.
func changedFields(ctx context.Context, before, after *audit.Policy) TableData {
	t := TableData{Caption: words.Say(ctx, "policytrial.figures")}
	for _, key := range []string{"rule", "figure", "before", "after"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "policytrial."+key)})
	}
	add := func(rule line.Rule, name string) {
		is := after.Fields(rule)
		for i, f := range before.Fields(rule) {
			if f.Value != is[i].Value {
				t.Rows = append(t.Rows, TableRow{Cells: []Cell{
					{Text: name}, {Text: fieldLabel(ctx, rule, f.Key)}, {Text: fieldValue(ctx, f)}, {Text: fieldValue(ctx, is[i])},
				}})
			}
		}
	}
	add("", words.Say(ctx, "policypage.general"))
	for _, r := range audit.Rules() {
		add(r.Rule, words.Say(ctx, r.Rule.Word()))
	}
	return t
}

func textDifferences(before, after *audit.Policy) []desk.DiffLine {
	return desk.Differences(string(before.Text()), string(after.Text()))
}

// signed is a difference with its sign.
func signed(n int) string {
	if n == 0 {
		return "0"
	}
	return strings.Replace(fmt.Sprintf("%+d", n), "-", "−", 1)
}

func signedDecimal(ctx context.Context, x float64) string {
	text := decimal(ctx, math.Abs(x))
	switch x = math.Round(x*10) / 10; {
	case x < 0:
		return "−" + text
	case x > 0:
		return "+" + text
	}
	return text
}
