// Package account says who people are to the program and who may do and see
// what. It is pure; the whole of the rights stands in one table.
package account

import (
	"net/url"
	"slices"
	"time"
)

// ID names an account for ever.
type ID = string

// Role is what a person is on the wards.
type Role string

// The roles.
const (
	Nurse         Role = "nurse"
	Doctor        Role = "doctor"
	Lead          Role = "lead" // infection-control lead
	Administrator Role = "administrator"
)

// Roles lists the roles.
var Roles = []Role{Nurse, Doctor, Lead, Administrator}

// Word is the key of the catalogue.
func (r Role) Word() string { return "role." + string(r) }

// Valid reports whether the role exists.
func (r Role) Valid() bool { return slices.Contains(Roles, r) }

// Right is one thing a person may do or see.
type Right string

// The rights.
const (
	SeeWards     Right = "see-wards"      // ward boards, lines, patients of the ward
	RecordCare   Right = "record-care"    // admissions to removals, corrections
	SeeAudit     Right = "see-audit"      // overdue now in the whole hospital, with its downloads
	JudgeLines   Right = "judge-lines"    // infection outcomes and follow-ups
	SeeOwnRecord Right = "see-own-record" // the person's own attempts; of others, a copy shared with them by name
	SeePolicy    Right = "see-policy"
	EditPolicy   Right = "edit-policy"   // try a policy on the record, put it in force
	SeeProof     Right = "see-proof"     // the head of the record, and whether a kept one still fits
	ManagePeople Right = "manage-people" // accounts, wards, beds, shift times, links of operators
)

// Rights lists the rights.
var Rights = []Right{SeeWards, RecordCare, SeeAudit, JudgeLines, SeeOwnRecord, SeePolicy, EditPolicy, SeeProof, ManagePeople}

// table is who may do what. DEVELOPERS.md shows the same table; a test compares.
var table = map[Role][]Right{
	Nurse:         {SeeWards, RecordCare, SeeOwnRecord, SeePolicy},
	Doctor:        {SeeWards, RecordCare, SeeOwnRecord, SeePolicy},
	Lead:          {SeeWards, RecordCare, SeeAudit, JudgeLines, SeeOwnRecord, SeePolicy, EditPolicy, SeeProof},
	Administrator: {SeePolicy, SeeProof, ManagePeople},
}

// May reports whether the role has the right. Nobody (the empty role) has none.
func (r Role) May(right Right) bool { return slices.Contains(table[r], right) }

// Account is a person's account. Its secret stands elsewhere.
type Account struct {
	ID       ID
	SignIn   string
	Name     string
	Initials string
	Role     Role
	Closed   bool
	Language string // BCP 47 tag of the one chosen, as the house knows it; empty: none
}

// May reports whether the person may; a closed account may nothing.
func (a Account) May(right Right) bool { return !a.Closed && a.Role.May(right) }

// Access is one line of the record of who opened which patient, or whose own record.
type Access struct {
	Account ID
	Subject int64 // the patient's key; 0 where a person's record was opened
	Line    int64 // the line's key; 0 where none was opened
	Record  ID    // the person whose record was opened
	What    string
	At      time.Time
}

// Draft is a form that could not be taken, kept for the account that typed it.
type Draft struct {
	ID      string
	Account ID
	Path    string
	Form    url.Values
	At      time.Time // when it came
	Carried *Carried  // nil: it came with its session, which had ended
}

// Carried is how a form came that a device had kept while there was no network.
type Carried struct {
	Device   string
	Captured time.Time     // when it was typed, by the device's clock
	Sent     time.Time     // when it was sent, by the device's clock
	Ahead    time.Duration // of the device's clock before the server's
	Reason   string        // why it was not recorded, in words; "": for its clock alone
}

// Delivered is one thing that a device has handed over.
type Delivered struct {
	ID      string // made by the device
	Account ID
	At      time.Time // when it came first
	Waiting bool      // not recorded: it became a draft of that id
	Carried
}

// Invitation lets a person choose their own passphrase, once.
type Invitation struct {
	Account ID
	Token   string
	Until   time.Time
}
