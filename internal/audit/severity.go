package audit

import (
	"fmt"
	"slices"
	"strings"
)

// Severity says how soon a finding asks for attention, the most urgent first.
type Severity uint8

// The severities.
const (
	ActNow Severity = iota
	Due
	Advise // shown quietly, never counted as due
)

var severityNames = []string{"act-now", "due", "advise"}

// String is the severity's name in files and in JSON.
func (s Severity) String() string {
	if int(s) < len(severityNames) {
		return severityNames[s]
	}
	return fmt.Sprintf("severity-%d", uint8(s))
}

// Word is the key of the catalogue.
func (s Severity) Word() string { return "severity." + s.String() }

// MarshalText writes the name.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the name.
func (s *Severity) UnmarshalText(text []byte) error {
	i := slices.Index(severityNames, string(text))
	if i < 0 {
		return &valueError{fmt.Sprintf("%q is no severity", text), strings.Join(severityNames, ", ")}
	}
	*s = Severity(i)
	return nil
}
