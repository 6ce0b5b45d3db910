package line

import (
	"fmt"
	"regexp"
)

// ID names an entry, patient, line, ward or account for ever and everywhere.
// Whoever makes the thing makes its id: usually a random UUID, for imported
// rows a name-based one. It tells nothing about a person.
type ID string

var idForm = regexp.MustCompile(`^[A-Za-z0-9._:-]{1,64}$`)

// ParseID reads an id: 1 to 64 letters, digits, dots, underscores, colons or hyphens.
func ParseID(s string) (ID, error) {
	if !idForm.MatchString(s) {
		return "", fmt.Errorf("%q is no id: 1 to 64 letters, digits, dots, underscores, colons or hyphens", s)
	}
	return ID(s), nil
}

// Key is a number by which one database knows a patient, a line or a ward. It
// is local, never shown and never exported. 0 is none.
type Key int64

// Rule is the name of an audit rule. The audit owns the list; the record keeps
// whatever name it was given.
type Rule string

// Tag is the rule's number in marks: 32-bit FNV-1a of its name, 0 for none.
func (r Rule) Tag() uint32 {
	if r == "" {
		return 0
	}
	h := uint32(2166136261)
	for i := range len(r) {
		h = (h ^ uint32(r[i])) * 16777619
	}
	return h
}

// Word is the key of the catalogue under which the rule's name stands.
func (r Rule) Word() string { return "rule." + string(r) }
