package view

import (
	"context"
	"maps"
	"net/url"
	"slices"
	"strings"

	"dwellbook/internal/words"
)

// Form is a form as it is shown: where it goes, what stands in it, and what is
// wrong with it, in words.
type Form struct {
	Action  string
	Values  url.Values
	Errors  map[string]string // by field name
	Message string            // about the form as a whole; empty: nothing is wrong
}

// Get is the first value of a field.
func (f Form) Get(name string) string { return f.Values.Get(name) }

// Has reports whether the field has the value among its values.
func (f Form) Has(name, value string) bool { return slices.Contains(f.Values[name], value) }

// Error is what is wrong with a field, or "".
func (f Form) Error(name string) string { return f.Errors[name] }

// fieldErrors lists what is wrong, in order of name, for the summary. Away from
// its field a sentence such as "Choose one." needs the field's label before it.
func (f Form) fieldErrors(ctx context.Context) []FieldError {
	var all []FieldError
	for _, name := range slices.Sorted(maps.Keys(f.Errors)) {
		text := f.Errors[name]
		if label := labelOf(ctx, name); label != "" {
			text = words.Say(ctx, "kit.field-error", "field", label, "error", text)
		}
		all = append(all, FieldError{ID: name, Text: text})
	}
	return all
}

// labelOf is the label of a field of an act; of another form's it is "".
func labelOf(ctx context.Context, name string) string {
	switch name {
	case "site", "side":
		return words.Say(ctx, "kit."+name)
	}
	if rest, ok := strings.CutPrefix(name, "attempt."); ok {
		n, part, _ := strings.Cut(rest, ".")
		for _, key := range []string{"act.field.attempt-" + part, "act.field." + part} {
			if words.Known(key) {
				return words.Say(ctx, "act.attempt") + " " + n + ", " + words.Say(ctx, key)
			}
		}
		return ""
	}
	if words.Known("act.field." + name) {
		return words.Say(ctx, "act.field."+name)
	}
	return ""
}
