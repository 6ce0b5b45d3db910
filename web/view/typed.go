package view

import (
	"maps"
	"net/url"
	"slices"
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

// fieldErrors lists what is wrong, in order of name, for the summary.
func (f Form) fieldErrors() []FieldError {
	var all []FieldError
	for _, name := range slices.Sorted(maps.Keys(f.Errors)) {
		all = append(all, FieldError{ID: name, Text: f.Errors[name]})
	}
	return all
}
