package line

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Gauge is a cannula's size on the gauge scale: the larger the number, the
// thinner the cannula. 0 is not known. The sizes that exist and their hub
// colours are those of ISO 10555-5:2013; there is no 15, 19, 21 or 23.
type Gauge uint8

// Gauges lists the sizes in use, widest first. (13G, red in the standard, is
// not a ward cannula and is left out.)
var Gauges = []Gauge{14, 16, 17, 18, 20, 22, 24, 26}

var hubColours = map[Gauge]string{
	14: "orange", 16: "grey", 17: "white", 18: "green", 20: "pink", 22: "blue", 24: "yellow", 26: "violet",
}

// ParseGauge reads "20", "20g" or "20 G"; empty is not known.
func ParseGauge(s string) (Gauge, error) {
	digits := strings.TrimSpace(strings.TrimRight(strings.TrimSpace(s), "gG"))
	if digits == "" && s == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(digits)
	if err != nil || n < 0 || n > 255 || !Gauge(n).Exists() {
		return 0, &UnknownWord{What: "gauge", Word: s, Allowed: gaugeWords()}
	}
	return Gauge(n), nil
}

func gaugeWords() []string {
	words := make([]string, len(Gauges))
	for i, g := range Gauges {
		words[i] = strconv.Itoa(int(g))
	}
	return words
}

// Exists reports whether a cannula of this size exists.
func (g Gauge) Exists() bool { return slices.Contains(Gauges, g) }

// Colour is the hub colour of ISO 10555-5, or "" where the gauge is not known.
func (g Gauge) Colour() string { return hubColours[g] }

// WiderThan reports whether g is wider than o; a gauge not known is neither.
func (g Gauge) WiderThan(o Gauge) bool { return g != 0 && o != 0 && g < o }

// String is the size as said on the ward: "20G".
func (g Gauge) String() string {
	if g == 0 {
		return "?G"
	}
	return fmt.Sprintf("%dG", uint8(g))
}

// UnmarshalJSON reads a number and refuses a size that does not exist.
func (g *Gauge) UnmarshalJSON(text []byte) error {
	read, err := ParseGauge(string(text))
	if err == nil {
		*g = read
	}
	return err
}

// OverJoint reports whether the site lies over a joint (common practice, no source).
func OverJoint(s Site) bool { return s == Wrist || s == ElbowCrease || s == Ankle }

// LimbOf is the limb a site lies in; 0 for neck and scalp, and where the side is not known.
func LimbOf(s Site, side Side) Limb {
	var left Limb
	switch s {
	case HandDorsum, Wrist, Forearm, ElbowCrease, UpperArm:
		left = LeftArm
	case Ankle, FootDorsum:
		left = LeftLeg
	}
	if left == 0 || side == 0 {
		return 0
	}
	if side == Right {
		return left + 1
	}
	return left
}

// HasSide reports whether a site needs a side: all but neck and scalp.
func HasSide(s Site) bool { return s != 0 && s != Neck && s != Scalp }

// Above orders sites along a limb: the higher, the nearer the trunk.
// Sites off the limbs are 0.
func Above(s Site) int {
	switch s {
	case HandDorsum, FootDorsum:
		return 1
	case Wrist, Ankle:
		return 2
	case Forearm:
		return 3
	case ElbowCrease:
		return 4
	case UpperArm:
		return 5
	}
	return 0
}

// Fails reports whether a removal for this reason counts as a failure of the line.
func Fails(r Reason) bool {
	switch r {
	case Phlebitis, Infiltration, Extravasation, Occlusion, Leak, Dislodged, InfectionSuspected, FaultyPosition:
		return true
	}
	return false
}
