package outcomes

import (
	"fmt"
	"math/bits"
	"slices"
	"strconv"
	"time"

	"dwellbook/internal/line"
)

// By is what lines or attempts are told apart by.
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
	ByHour       // of attempts alone: the time of day
	ByDifficulty // of attempts alone: how hard the vein was
)

var byWords = [...]string{"", "site", "gauge", "ward", "side", "operator-role", "asepsis", "hour", "difficulty"}

// AttemptBys are the groupings of attempts.
func AttemptBys() []By { return []By{BySite, ByGauge, BySide, ByHour, ByWard, ByDifficulty} }

// Bys are the groupings of lines that a person may choose.
func Bys() []By { return []By{BySite, ByGauge, ByWard, BySide, ByOperatorRole, ByAsepsis} }

// ParseBy reads a grouping of lines; empty is none.
func ParseBy(text string) (By, error) {
	if i := slices.Index(byWords[:], text); i >= 0 && i <= int(ByAsepsis) {
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
	Role func(line.Course) Name        // of who placed the line
	Zone func(line.Key) *time.Location // of a ward's clock
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

// The bands of attempts: a quarter of the day each (house rule), and the three
// of the modified A-DIVA scale (van Loon 2019, J Clin Med 8:144; 0 to 1, 2 to 3
// and 4 to 5 from memory).
var (
	quarters = [...]Name{
		{"00-06", line.Say("outcomes.hour.night")}, {"06-12", line.Say("outcomes.hour.morning")},
		{"12-18", line.Say("outcomes.hour.afternoon")}, {"18-24", line.Say("outcomes.hour.evening")},
	}
	hardness = [...]Name{
		{"low", line.Say("outcomes.difficulty.low")}, {"moderate", line.Say("outcomes.difficulty.moderate")}, {"high", line.Say("outcomes.difficulty.high")},
	}
)

// groupOfTried is the group that an attempt belongs to, and its place among the
// groups of a list: wards go by name.
func (b By) groupOfTried(t line.Tried, names Names) (name Name, place int) {
	switch b {
	case ByHour:
		if t.Precision != line.ToMinute || names.Zone == nil {
			return notKnown, len(quarters)
		}
		place = t.At.Time().In(names.Zone(t.Ward)).Hour() / 6
		return quarters[place], place
	case ByDifficulty:
		if !t.Assessed {
			return notKnown, len(hardness)
		}
		place = bits.OnesCount32(uint32(t.Difficulty)) / 2
		return hardness[place], place
	case BySite:
		place = int(t.Site)
	case ByGauge:
		place = int(t.Gauge)
	case BySide:
		place = int(t.Side)
	}
	return b.groupOf(line.Course{Site: t.Site, Side: t.Side, Gauge: t.Gauge, Ward: t.Ward}, names), place
}

func coded[V line.Vocabulary](c line.Code[V]) Name { return Name{c.String(), c} }
