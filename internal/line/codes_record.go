package line

// The vocabularies of the patient and of the record: each type is a Code, its
// words in the order of their numbers.
type (
	// Limb is an arm or a leg.
	Limb = Code[limbs]
	// Restriction is why a limb must be spared.
	Restriction = Code[restrictions]
	// Absence is why a site was not seen.
	Absence = Code[absences]
	// Watch is why a patient is watched more closely.
	Watch = Code[watches]
	// Group is adult or child.
	Group = Code[groups]
	// Answer is the answer to a question that may not have been asked.
	Answer = Code[answers]
	// Precision is how well a moment is known.
	Precision = Code[precisions]
	// Kind is the kind of an entry.
	Kind = Code[kinds]
)

// Words of Limb.
const (
	LeftArm Limb = iota + 1
	RightArm
	LeftLeg
	RightLeg
)

type limbs struct{}

var limbsWords = []string{"", "left-arm", "right-arm", "left-leg", "right-leg"}

func (limbs) Words() (string, []string) { return "limb", limbsWords }

// Words of Restriction.
const (
	Fistula Restriction = iota + 1
	NodeClearance
	Paralysed
	Burnt
	Infected
	DVT
	Oedema
	Fracture
	VeinPreservation
)

type restrictions struct{}

var restrictionsWords = []string{"", "fistula", "node-clearance", "paralysed", "burnt", "infected", "dvt", "oedema", "fracture", "vein-preservation"}

func (restrictions) Words() (string, []string) { return "restriction", restrictionsWords }

// Words of Absence.
const (
	OffWard Absence = iota + 1
	DeclinedLook
	AsleepByPlan
	EndOfLife
)

type absences struct{}

var absencesWords = []string{"", "off-ward", "declined", "asleep-by-plan", "end-of-life"}

func (absences) Words() (string, []string) { return "not-seen", absencesWords }

// Words of Watch.
const (
	WatchChild Watch = iota + 1
	WatchSedated
	WatchIrritant
)

type watches struct{}

var watchesWords = []string{"", "child", "sedated-or-confused", "irritant-running"}

func (watches) Words() (string, []string) { return "closer-watch", watchesWords }

// Words of Group.
const (
	Adult Group = iota + 1
	Child
)

type groups struct{}

var groupsWords = []string{"", "adult", "child"}

func (groups) Words() (string, []string) { return "age-group", groupsWords }

// Words of Answer.
const (
	Yes Answer = iota + 1
	No
)

type answers struct{}

var answersWords = []string{"", "yes", "no"}

func (answers) Words() (string, []string) { return "answer", answersWords }

// Words of Precision.
const (
	ToMinute Precision = iota + 1
	ToDay
	NotKnown
)

type precisions struct{}

var precisionsWords = []string{"", "minute", "day", "not-known"}

func (precisions) Words() (string, []string) { return "precision", precisionsWords }

// Words of Kind.
const (
	KindAdmission Kind = iota + 1
	KindOccasion
	KindFacts
	KindReview
	KindNotSeen
	KindDressing
	KindTransfer
	KindDischarge
	KindRemoval
	KindSiteCheck
	KindInfection
	KindJustification
	KindFollowUp
	KindCorrection
	KindVoid
	KindErasure
	KindPolicy
	KindWard
	KindHospital
	KindAccount
	KindOperatorLink
	KindAttemptAgreement
	KindRecordShare
)

type kinds struct{}

var kindsWords = []string{"", "admission", "occasion", "patient-facts", "review", "not-seen", "dressing", "transfer", "discharge", "removal", "site-check", "infection-outcome", "justification", "follow-up", "correction", "void", "erasure", "policy", "ward", "hospital", "account", "operator-link", "attempt-agreement", "record-share"}

func (kinds) Words() (string, []string) { return "kind", kindsWords }
