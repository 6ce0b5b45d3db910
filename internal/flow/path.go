package flow

// Part is a part of the path from bag to vein.
type Part uint8

// The parts, in the order the fluid meets them. The vein takes what its own
// pressure is.
const (
	TubingPart Part = iota + 1
	ExtensionPart
	ConnectorPart
	CannulaPart
	VeinPart
)

var partWords = []string{"", "tubing", "extension", "connector", "cannula", "vein"}

// String is the part's word in JSON.
func (p Part) String() string { return word(partWords, p) }

// Tubing is the kind of giving set.
type Tubing uint8

// The giving sets. NoTubing is the bare cannula of the standard test.
const (
	NoTubing Tubing = iota
	StandardTubing
	WideTubing // for fast transfusion
)

var tubingWords = []string{"", "standard", "wide"}

// String is the set's word in commands; none is "".
func (t Tubing) String() string { return word(tubingWords, t) }

// ParseTubing reads a set's word; the error is an *UnknownWord.
func ParseTubing(s string) (Tubing, error) { return parse[Tubing](tubingWords, "tubing", s) }

// Fitting is a part as a round tube that costs as much pressure.
type Fitting struct {
	part   Part
	length Millimetre
	bore   spread // mm
	source Source
}

// The sets that published runs went through differ more than twofold in what
// they let pass (8.5 Fr device: 160, 316 and 805 mL/min; Dutky 1989), hence the
// spreads. A needle-free connector has no bore of its own: its tube is the one
// that takes 36 % of a 14G's flow by gravity (Khoyratty 2016); from its widest to
// its narrowest it takes 25 to 70 % under pressure, of 29 to 85 % that five makes
// took (Lehn 2015).
var (
	standardSet = Fitting{TubingPart, 1800, spread{2.5, 3.0, 3.3}, Source{"typical giving sets", true}}
	wideSet     = Fitting{TubingPart, 1800, spread{4.0, 4.4, 5.0}, Source{"Rapid volume infusion in prehospital care, Prehosp Disaster Med: 4.4 mm; length and spread from memory", true}}
	extension   = Fitting{ExtensionPart, 150, spread{1.5, 2.0, 2.7}, Source{"typical short extension sets", true}}
	connector   = Fitting{ConnectorPart, 20, spread{0.8, 1.2, 1.6}, Source{"Khoyratty et al., J Clin Anesth 2016;31:101-5: 36 % of a 14G's flow", false}}
)

// Part of the path it is.
func (f Fitting) Part() Part { return f.part }

// Length of the tube.
func (f Fitting) Length() Millimetre { return f.length }

// Bore is the inner diameter: the likely one, and the least and most it may be.
// Of a connector, and of a cannula known by its rated flow, it is an effective
// one, not to be measured.
func (f Fitting) Bore() (least, likely, most Millimetre) {
	return Millimetre(f.bore[lower]), Millimetre(f.bore[nominal]), Millimetre(f.bore[upper])
}

// Source is where the bore comes from.
func (f Fitting) Source() Source { return f.source }

func (f Fitting) tube(b bound) tube { return tube{f.length, Millimetre(f.bore[b])} }

// Conditions are what the fluid runs under.
type Conditions struct {
	Fluid       Fluid
	Temperature Celsius
	Head        Centimetre          // height of the fluid in the bag above the cannula
	Bag         MillimetreOfMercury // pressure round the bag
	Vein        MillimetreOfMercury // pressure in the vein
	Tubing      Tubing
	Extension   bool
	Connector   bool // needle-free
}

// check refuses what cannot be. Errors: *OutOfRange, *UnknownWord.
func (c Conditions) check() error {
	if c.Fluid.String() == "" {
		return &UnknownWord{What: "fluid", Allowed: fluidWords[1:]}
	}
	if c.Tubing > WideTubing {
		return &UnknownWord{What: "tubing", Allowed: tubingWords[1:]}
	}
	for _, err := range []error{
		check(Temperature, c.Temperature), check(Head, c.Head), check(BagPressure, c.Bag), check(VeinPressure, c.Vein),
	} {
		if err != nil {
			return err
		}
	}
	return nil
}

// Fittings are the parts between bag and cannula, in the order the fluid meets them.
func (c Conditions) Fittings() []Fitting {
	parts := make([]Fitting, 0, 4)
	switch c.Tubing {
	case StandardTubing:
		parts = append(parts, standardSet)
	case WideTubing:
		parts = append(parts, wideSet)
	}
	if c.Extension {
		parts = append(parts, extension)
	}
	if c.Connector {
		parts = append(parts, connector)
	}
	return parts
}

// resist is what the parts cost a liquid.
func resist(parts []Fitting, l liquid, b bound) series {
	s := make(series, len(parts))
	for k, p := range parts {
		s[k] = p.tube(b).at(l, b)
	}
	return s
}
