package view

import (
	"slices"
	"strconv"
	"time"

	"github.com/a-h/templ"
)

// Field is what every kind of field has: its name, its words, what is wrong.
type Field struct {
	Name     string
	ID       string // of the first control; empty: the name
	Label    string
	Hint     string // how to answer, under the label
	Error    string // what is wrong with the answer, and what to do
	Required bool   // the browser asks for it too; otherwise the label says it may be left out
	Optional bool   // says so beside the label
}

// labelled is f with a label.
func labelled(f Field, label string) Field {
	f.Label = label
	return f
}

// hinted is f with a hint; it may be empty.
func hinted(f Field, hint string) Field {
	f.Hint = hint
	return f
}

func (f Field) id() string { return or(f.ID, f.Name) }

// optionID is the id of the i-th control of a group. The first has the field's
// own, so that the error summary leads to it.
func (f Field) optionID(i int) string {
	if i == 0 {
		return f.id()
	}
	return f.id() + "-" + strconv.Itoa(i)
}

// described are the attributes that tie hint and error to a control.
func (f Field) described() templ.Attributes {
	attrs := templ.Attributes{}
	switch {
	case f.Hint != "" && f.Error != "":
		attrs["aria-describedby"] = f.id() + "-hint " + f.id() + "-error"
	case f.Hint != "":
		attrs["aria-describedby"] = f.id() + "-hint"
	case f.Error != "":
		attrs["aria-describedby"] = f.id() + "-error"
	}
	return attrs
}

// state is described, and whether the answer is refused.
func (f Field) state() templ.Attributes {
	attrs := f.described()
	if f.Error != "" {
		attrs["aria-invalid"] = "true"
	}
	return attrs
}

// Input is what a text field has beside.
type Input struct {
	Value        string
	Type         string // empty: text
	InputMode    string // numeric for numbers typed with a thumb
	Autocomplete string // empty: off
	Width        string // short, mid or empty: as wide as the column
	Unit         string // stands after the field
	MaxLength    int    // 0: no bound
	Private      bool   // may hold a patient's reference; blanks with the rest
}

// layouts are the forms in which a browser takes what its own pickers make.
var layouts = map[string]string{"date": time.DateOnly, "time": "15:04", "month": "2006-01"}

// kind is the control's type. A picker blanks what it cannot read, so what was
// typed otherwise stands in a plain field.
func (in Input) kind() string {
	if layout := layouts[in.Type]; layout != "" && in.Value != "" {
		if _, err := time.Parse(layout, in.Value); err != nil {
			return "text"
		}
	}
	return or(in.Type, "text")
}

// Option is one answer to choose.
type Option struct {
	Value, Label string
	Hint         string // a second line, small
}

// FieldError leads from the summary to a field.
type FieldError struct {
	ID, Text string
}

// ButtonKind is how much a button asks for attention.
type ButtonKind string

// The kinds of button: one main on a screen or row (wide on a phone's own
// screens); quiet for what is beside it; danger for what takes something away;
// plain for the rest.
const (
	MainButton   ButtonKind = "main"
	WideButton   ButtonKind = "main wide"
	QuietButton  ButtonKind = "quiet"
	DangerButton ButtonKind = "danger"
	PlainButton  ButtonKind = ""
)

// TimeValue is a time as it stands in a form. A field called at posts:
// at = now, ago, typed, day or unknown; at-ago minutes; at-date a local date,
// 2026-01-31, for typed and day; at-clock a local time, 13:10, for typed;
// at-fold first or second, where the local time comes twice.
type TimeValue struct {
	How, Ago, Date, Clock, Fold string
	AllowDay, AllowUnknown      bool   // offer "only the day" and "not known"
	Twice                       bool   // ask which of the two
	LatestDate                  string // latest date that can be typed; may be empty
}

// classes joins two class names, of which the second may be empty. Boards have
// hundreds; templ's own lists of classes cost several allocations each.
func classes(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + " " + b
}

// onlyIf is the class where the condition holds.
func onlyIf(class string, holds bool) string {
	if holds {
		return class
	}
	return ""
}

func chosen(values []string, value string) bool { return slices.Contains(values, value) }

// NumberMark stands for the number of a row in the model of a Repeat, in its
// names and ids.
const NumberMark = "__N__"
