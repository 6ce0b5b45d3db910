package interop

import (
	"strings"

	"dwellbook/internal/line"
)

// The words sheets use beside our own codes: common trade words and plain
// English, from memory, no source. A hospital's own words go into a mapping.

var siteSpellings = map[string]line.Site{
	"hand": line.HandDorsum, "back-of-hand": line.HandDorsum, "dorsum-of-hand": line.HandDorsum, "dorsal-hand": line.HandDorsum,
	"fore-arm": line.Forearm, "lower-arm": line.Forearm,
	"acf": line.ElbowCrease, "ac": line.ElbowCrease, "antecubital": line.ElbowCrease, "antecubital-fossa": line.ElbowCrease,
	"ante-cubital-fossa": line.ElbowCrease, "cubital-fossa": line.ElbowCrease, "elbow": line.ElbowCrease,
	"upperarm": line.UpperArm,
	"foot":     line.FootDorsum, "dorsum-of-foot": line.FootDorsum, "top-of-foot": line.FootDorsum,
	"external-jugular": line.Neck, "ej": line.Neck, "ejv": line.Neck,
}

var sideSpellings = map[string]line.Side{
	"l": line.Left, "lt": line.Left, "lhs": line.Left, "r": line.Right, "rt": line.Right, "rhs": line.Right,
}

var asepsisSpellings = map[string]line.Asepsis{
	"yes": line.AsepsisFull, "y": line.AsepsisFull, "no": line.AsepsisNotFull, "n": line.AsepsisNotFull,
	"unknown": line.AsepsisNotKnown, "n/k": line.AsepsisNotKnown, "?": line.AsepsisNotKnown,
}

var dressingSpellings = map[string]line.Material{
	"transparent": line.Film, "transparent-film": line.Film, "clear-film": line.Film, "film-dressing": line.Film,
	"gauze-and-tape": line.Gauze,
}

var reasonSpellings = map[string]line.Reason{
	"no-longer-needed": line.NotNeeded, "not-required": line.NotNeeded, "no-longer-required": line.NotNeeded,
	"infiltrated": line.Infiltration, "tissued": line.Infiltration, "extravasated": line.Extravasation,
	"blocked": line.Occlusion, "occluded": line.Occlusion, "leaking": line.Leak, "leakage": line.Leak,
	"fell-out": line.Dislodged, "pulled-out": line.Dislodged, "dislodgement": line.Dislodged,
	"infection": line.InfectionSuspected, "routine-change": line.Routine, "malposition": line.FaultyPosition,
	"death": line.Died, "deceased": line.Died, "discharge": line.Discharged,
}

var answerSpellings = map[string]line.Answer{
	"true": line.Yes, "t": line.Yes, "y": line.Yes, "1": line.Yes,
	"false": line.No, "f": line.No, "n": line.No, "0": line.No,
}

// colourGauges is the hub colours of ISO 10555-5 (line.Gauge), and the other
// spellings of two of them.
var colourGauges = func() map[string]line.Gauge {
	colours := map[string]line.Gauge{"gray": 16, "purple": 26}
	for _, g := range line.Gauges {
		colours[g.Colour()] = g
	}
	return colours
}()

// blanks are the words that stand for an empty cell where a sheet has none of
// its own. Initials are no such words: "NA" is somebody.
var blanks = []string{"-", "--", "?", "n/a", "n/k", "unknown", "not-known", "not-recorded"}

// folded is a word as it is looked up: lower case, hyphens for spaces and underscores.
func folded(word string) string {
	parts := func(r rune) bool { return r == ' ' || r == '_' || r == '\u00a0' || r == '\t' || r == '\n' }
	word = strings.ToLower(word)
	if !strings.ContainsFunc(word, parts) {
		return word
	}
	return strings.Join(strings.FieldsFunc(word, parts), "-")
}
