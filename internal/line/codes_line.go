package line

// The vocabularies of the line itself: each type is a Code, its words in the
// order of their numbers.
type (
	// Site is where the cannula lies.
	Site = Code[sites]
	// Side is the patient's own side.
	Side = Code[sides]
	// Material is what the dressing is made of.
	Material = Code[materials]
	// State is one thing seen of a dressing.
	State = Code[states]
	// Flush is how the cannula flushed.
	Flush = Code[flushes]
	// Asepsis is how clean the placement was.
	Asepsis = Code[asepses]
	// PlacedBy is who placed the line.
	PlacedBy = Code[placers]
	// Purpose is what the line is for.
	Purpose = Code[purposes]
	// Reason is why a line came out.
	Reason = Code[reasons]
	// Sign is one thing seen or said at a site.
	Sign = Code[signs]
	// Fault is what went wrong in an attempt.
	Fault = Code[faults]
	// Difficulty is one thing that makes a vein hard to get into.
	Difficulty = Code[difficulties]
	// Outcome is how an occasion ended.
	Outcome = Code[outcomes]
	// Stopped is why an occasion stopped before skin.
	Stopped = Code[stops]
	// Infection is what became of a suspected infection.
	Infection = Code[infections]

	// States is what was seen of a dressing.
	States = Set[states]
	// Signs is what was seen or said at a site.
	Signs = Set[signs]
	// Difficulties is what was ticked of a vein before an attempt; how many is the
	// modified A-DIVA scale of adults, 0 to 5 (van Loon 2019, J Clin Med 8:144).
	Difficulties = Set[difficulties]
	// Purposes is what a line is for.
	Purposes = Set[purposes]
)

// Words of Site.
const (
	HandDorsum Site = iota + 1
	Wrist
	Forearm
	ElbowCrease
	UpperArm
	Ankle
	FootDorsum
	Neck
	Scalp
)

type sites struct{}

var sitesWords = []string{"", "hand-dorsum", "wrist", "forearm", "elbow-crease", "upper-arm", "ankle", "foot-dorsum", "neck", "scalp"}

func (sites) Words() (string, []string) { return "site", sitesWords }

// Words of Side.
const (
	Left Side = iota + 1
	Right
)

type sides struct{}

var sidesWords = []string{"", "left", "right"}

func (sides) Words() (string, []string) { return "side", sidesWords }

// Words of Material.
const (
	Film Material = iota + 1
	Gauze
	OtherDressing
)

type materials struct{}

var materialsWords = []string{"", "film", "gauze", "other"}

func (materials) Words() (string, []string) { return "dressing", materialsWords }

// Words of State.
const (
	Intact State = iota + 1
	Loose
	Damp
	Soiled
	Lifted
)

type states struct{}

var statesWords = []string{"", "intact", "loose", "damp", "soiled", "lifted"}

func (states) Words() (string, []string) { return "dressing-state", statesWords }

// Words of Flush.
const (
	FlushEasy Flush = iota + 1
	FlushStiff
	FlushNone
	FlushNotTried
)

type flushes struct{}

var flushesWords = []string{"", "easy", "stiff", "none", "not-tried"}

func (flushes) Words() (string, []string) { return "flush", flushesWords }

// Words of Asepsis.
const (
	AsepsisFull Asepsis = iota + 1
	AsepsisNotFull
	AsepsisNotKnown
)

type asepses struct{}

var asepsesWords = []string{"", "full", "not-full", "not-known"}

func (asepses) Words() (string, []string) { return "asepsis", asepsesWords }

// Words of PlacedBy.
const (
	OwnStaff PlacedBy = iota + 1
	Ambulance
	OtherHospital
	PlacerNotKnown
)

type placers struct{}

var placersWords = []string{"", "own-staff", "ambulance", "other-hospital", "not-known"}

func (placers) Words() (string, []string) { return "placed-by", placersWords }

// Words of Purpose.
const (
	ForFluids Purpose = iota + 1
	ForDrugs
	ForBlood
	ForContrast
	ForEmergency
	ForSampling
	ForOther
)

type purposes struct{}

var purposesWords = []string{"", "fluids", "drugs", "blood", "contrast", "emergency", "sampling", "other"}

func (purposes) Words() (string, []string) { return "purpose", purposesWords }

// Words of Reason.
const (
	NotNeeded Reason = iota + 1
	Phlebitis
	Infiltration
	Extravasation
	Occlusion
	Leak
	Dislodged
	InfectionSuspected
	Routine
	FaultyPosition
	Died
	Discharged
	FoundGone
	OtherReason
)

type reasons struct{}

var reasonsWords = []string{"", "not-needed", "phlebitis", "infiltration", "extravasation", "occlusion", "leak", "dislodged", "infection-suspected", "routine", "faulty-position", "died", "discharged", "found-gone", "other"}

func (reasons) Words() (string, []string) { return "removal", reasonsWords }

// Words of Sign.
const (
	Pain Sign = iota + 1
	Redness
	Swelling
	Induration
	Cord
	Fever
	SiteLeak
	CoolOrBlanched
	Pus
	Resistance
	PainReported
	ExtravasationSuspected
)

type signs struct{}

var signsWords = []string{"", "pain", "redness", "swelling", "induration", "cord", "fever", "leak", "cool-or-blanched", "pus", "resistance", "pain-reported", "extravasation-suspected"}

func (signs) Words() (string, []string) { return "sign", signsWords }

// Words of Fault.
const (
	NoFlashback Fault = iota + 1
	WouldNotAdvance
	ThroughBackWall
	StoppedAtValve
	Haematoma
	VeinRolled
	Spasm
	Arterial
	NervePain
	SwelledOnFlush
	DislodgedSecuring
	PatientMoved
	Equipment
	OtherFault
)

type faults struct{}

var faultsWords = []string{"", "no-flashback", "flashback-would-not-advance", "through-back-wall", "stopped-at-valve-or-junction", "haematoma", "vein-rolled", "spasm", "arterial", "nerve-pain", "swelled-on-flush", "dislodged-while-securing", "patient-moved", "equipment", "other"}

func (faults) Words() (string, []string) { return "fault", faultsWords }

// Words of Difficulty.
const (
	VeinNotVisible Difficulty = iota + 1
	VeinNotPalpable
	DifficultBefore    // a history of difficult access
	DifficultyExpected // by whoever was about to try
	VeinSmall          // under 3 mm
	NotDifficult       // asked, and none of these; not asked is an empty set
)

type difficulties struct{}

var difficultiesWords = []string{"", "not-visible", "not-palpable", "difficult-before", "difficulty-expected", "small-vein", "none"}

func (difficulties) Words() (string, []string) { return "difficulty", difficultiesWords }

// Words of Outcome.
const (
	WithLine Outcome = iota + 1
	WithoutLine
	BeforeSkin
)

type outcomes struct{}

var outcomesWords = []string{"", "line", "no-line", "before-skin"}

func (outcomes) Words() (string, []string) { return "occasion", outcomesWords }

// Words of Stopped.
const (
	NoVeinFound Stopped = iota + 1
	PatientDeclined
	StoppedOther
)

type stops struct{}

var stopsWords = []string{"", "no-vein", "declined", "other"}

func (stops) Words() (string, []string) { return "stopped", stopsWords }

// Words of Infection.
const (
	InfectionConfirmed Infection = iota + 1
	InfectionNotConfirmed
	InfectionBloodstream
)

type infections struct{}

var infectionsWords = []string{"", "confirmed", "not-confirmed", "bloodstream"}

func (infections) Words() (string, []string) { return "infection", infectionsWords }
