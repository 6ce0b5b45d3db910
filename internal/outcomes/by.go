package outcomes

import (
	"fmt"
	"slices"
	"strconv"

	"dwellbook/internal/line"
)

// By is what lines are told apart by.
type By int

// The groupings.
const (
	ByNothing By = iota
	BySite
	ByGauge
	ByWard // where the line was placed
	BySide
	ByOperatorRole // of who placed it, as the account stands now
	ByAsepsis
)

var byWords = [...]string{"", "site", "gauge", "ward", "side", "operator-role", "asepsis"}

// Bys are the groupings a person may choose.
func Bys() []By { return []By{BySite, ByGauge, ByWard, BySide, ByOperatorRole, ByAsepsis} }

// ParseBy reads a grouping; empty is none.
func ParseBy(text string) (By, error) {
	if i := slices.Index(byWords[:], text); i >= 0 {
		return By(i), nil
	}
	return 0, fmt.Errorf("%q is no grouping", text)
}

// String is the grouping's word.
func (b By) String() string { return byWords[b] }

// Name is a group's: for programs, and as a sentence takes it (a code, a gauge,
// a message, a text).
type Name struct {
	ID    string
	Label any
}

// The groups of lines that there is nothing to tell apart by.
var (
	everything = Name{"all", line.Say("outcomes.group.all")}
	notKnown   = Name{"not-known", line.Say("outcomes.group.not-known")}
	noSide     = Name{"none", line.Say("outcomes.group.no-side")} // neck and scalp have none
)

// Names gives what only the record knows; a Name without an ID where it does not.
type Names struct {
	Ward func(line.Key) Name
	Role func(line.Course) Name // of who placed the line
}

// groupOf is the group that a line belongs to.
func (b By) groupOf(c line.Course, names Names) Name {
	var name Name
	switch b {
	case ByNothing:
		return everything
	case BySite:
		name = coded(c.Site)
	case ByGauge:
		if c.Gauge != 0 {
			name = Name{strconv.Itoa(int(c.Gauge)), c.Gauge}
		}
	case ByWard:
		name = names.Ward(c.Ward)
	case BySide:
		if c.Side == 0 && c.Site != 0 && !line.HasSide(c.Site) {
			return noSide
		}
		name = coded(c.Side)
	case ByOperatorRole:
		name = names.Role(c)
	case ByAsepsis:
		name = coded(c.Asepsis)
	}
	if name.ID == "" {
		return notKnown
	}
	return name
}

func coded[V line.Vocabulary](c line.Code[V]) Name { return Name{c.String(), c} }
