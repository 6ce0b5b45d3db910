package line

import (
	"fmt"
	"time"
)

// FormatVersion is the version of the canonical form written today.
const FormatVersion = 1

// MostNeeded is the largest flow that a need can be, in millilitres per hour: 18 mL/s.
const MostNeeded = 65535

// Entry is one dated statement about a patient or about the house. Once
// accepted it is never changed; a correction or a void is another entry.
type Entry struct {
	Version   int       `json:"v"`
	ID        ID        `json:"id"`
	Kind      Kind      `json:"kind"`
	Subject   ID        `json:"subject,omitzero"` // the patient; none for the house's own entries
	Line      ID        `json:"line,omitzero"`    // the line, or the occasion that ended without one
	Author    ID        `json:"author"`           // the account that recorded it
	Happened  Minute    `json:"happened"`         // where not known: when it was first seen
	Precision Precision `json:"precision"`
	Recorded  time.Time `json:"recorded,omitzero"` // to the millisecond, UTC; given by the record that first accepts it
	Body      Body      `json:"body"`
}

// Body is what an entry of one kind says.
type Body interface{ Kind() Kind }

// MarshalText writes a minute in RFC 3339.
func (m Minute) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads RFC 3339 with an offset and drops the seconds. A year that
// has more or fewer than four digits in UTC is refused: it could not be written.
func (m *Minute) UnmarshalText(text []byte) error {
	t, err := time.Parse(time.RFC3339, string(text))
	if err != nil {
		return err
	}
	if year := t.UTC().Year(); year < 0 || year > 9999 {
		return fmt.Errorf("the year of %s is out of range", text)
	}
	*m = MinuteOf(t)
	return nil
}

// The bodies, in the order of their kinds.
type (
	// Admission puts the patient into a bed of a ward.
	Admission struct {
		Ward      ID   `json:"ward"`
		Bed       Text `json:"bed,omitzero"`
		Reference Text `json:"reference,omitzero"` // in the hospital's pattern; empty: not identified
	}

	// Operator is who held the cannula: an account, or a name or initials as written.
	Operator struct {
		Account ID   `json:"account,omitzero"`
		Written Text `json:"written,omitzero"`
	}

	// Attempt is one new cannula through the skin. Fault is set where it failed;
	// Difficulty is left out where it was not asked.
	Attempt struct {
		Operator   Operator     `json:"operator,omitzero"`
		Site       Site         `json:"site,omitzero"`
		Side       Side         `json:"side,omitzero"`
		Gauge      Gauge        `json:"gauge,omitzero"`
		Failed     bool         `json:"failed"`
		Fault      Fault        `json:"fault,omitzero"`
		Difficulty Difficulties `json:"difficulty,omitzero"`
	}

	// Occasion is one time of trying to place a line. Site, side and gauge are
	// those of the line; where none came of it, of the last attempt.
	Occasion struct {
		Outcome    Outcome   `json:"outcome"`
		Stopped    Stopped   `json:"stopped,omitzero"`
		Site       Site      `json:"site,omitzero"`
		Side       Side      `json:"side,omitzero"`
		Gauge      Gauge     `json:"gauge,omitzero"`
		LengthMM   int       `json:"length_mm,omitzero"`
		Operator   Operator  `json:"operator,omitzero"` // of the line; also where the attempts are only a number
		Attempts   []Attempt `json:"attempts,omitzero"`
		Count      int       `json:"count,omitzero"`      // attempts, where only their number is known
		Supervisor Operator  `json:"supervisor,omitzero"` // who stood by and guided
		Asepsis    Asepsis   `json:"asepsis,omitzero"`
		PlacedBy   PlacedBy  `json:"placed_by,omitzero"`
		Purposes   Purposes  `json:"purposes,omitzero"`
		Dressing   Material  `json:"dressing,omitzero"`
		Flush      Flush     `json:"flush,omitzero"`
		Note       Text      `json:"note,omitzero"`
	}

	// Limit is a limb to be spared, from the entry's moment.
	Limit struct {
		Limb   Limb        `json:"limb"`
		Why    Restriction `json:"why"`
		Until  Minute      `json:"until,omitzero"`
		Lifted bool        `json:"lifted,omitzero"` // ends the restriction of that limb and reason at the entry's moment
	}

	// Vigil is a closer watch, from the entry's moment.
	Vigil struct {
		Why    Watch  `json:"why"`
		Until  Minute `json:"until,omitzero"`
		Lifted bool   `json:"lifted,omitzero"`
	}

	// Need is the flow the therapy needs, 1 to MostNeeded.
	Need struct {
		MillilitresPerHour int     `json:"ml_per_hour"`
		For                Purpose `json:"for,omitzero"`
	}

	// Facts says what holds of the patient from the entry's moment; what is left out is unchanged.
	Facts struct {
		Group   Group   `json:"group,omitzero"`
		Limits  []Limit `json:"limits,omitzero"`
		Watches []Vigil `json:"watches,omitzero"`
		Need    *Need   `json:"need,omitzero"`
	}

	// Review is a look at the site with its findings. What was not asked is left out.
	Review struct {
		Signs     Signs  `json:"signs,omitzero"`
		Score     *int   `json:"score,omitzero"` // as given on Scale; left out: by rule from the signs
		Scale     string `json:"scale,omitzero"`
		Dressing  States `json:"dressing,omitzero"`
		Flush     Flush  `json:"flush,omitzero"`
		Used      Answer `json:"used,omitzero"`
		Needed    Answer `json:"needed,omitzero"`
		KeepUntil Minute `json:"keep_until,omitzero"` // kept on purpose, though not used, until then
		Note      Text   `json:"note,omitzero"`
	}

	// NotSeen says why a site could not be looked at; without a line, all of the patient's.
	NotSeen struct {
		Why     Absence `json:"why"`
		Returns Minute  `json:"returns,omitzero"`
	}

	// Dressing is a new dressing put on.
	Dressing struct {
		Material Material `json:"material,omitzero"`
		Note     Text     `json:"note,omitzero"`
	}

	// Transfer moves the patient with all lines.
	Transfer struct {
		Ward ID   `json:"ward"`
		Bed  Text `json:"bed,omitzero"`
	}

	// Discharge ends the stay. A line that is still in is either taken out in
	// an entry of its own or named here as left in on purpose.
	Discharge struct {
		LeftIn []ID `json:"left_in,omitzero"`
		Why    Text `json:"why,omitzero"`
	}

	// Removal is the line taken out, or found gone.
	Removal struct {
		Reason   Reason `json:"reason"`
		Signs    Signs  `json:"signs,omitzero"`
		Score    *int   `json:"score,omitzero"`
		Scale    string `json:"scale,omitzero"`
		Complete Answer `json:"complete,omitzero"` // the cannula came out whole
		Note     Text   `json:"note,omitzero"`
	}

	// SiteCheck is a look at the site after removal.
	SiteCheck struct {
		Signs Signs  `json:"signs,omitzero"`
		Score *int   `json:"score,omitzero"`
		Scale string `json:"scale,omitzero"`
		Note  Text   `json:"note,omitzero"`
	}

	// InfectionOutcome is what the infection-control lead found of a suspected infection.
	InfectionOutcome struct {
		Outcome Infection `json:"outcome"`
		Note    Text      `json:"note,omitzero"`
	}

	// Justification answers findings of a rule with a reason and an end.
	Justification struct {
		Rule         Rule   `json:"rule"`
		Clinician    Text   `json:"clinician,omitzero"`
		Why          Text   `json:"why,omitzero"`
		Until        Minute `json:"until,omitzero"`
		Unobtainable bool   `json:"unobtainable,omitzero"` // asked, cannot be obtained: closes record-incomplete for good
	}

	// FollowUp is a lead's note that a finding was followed up.
	FollowUp struct {
		Rule Rule `json:"rule"`
		Note Text `json:"note,omitzero"`
	}

	// Correction replaces an earlier entry as a whole. Seen is the version its
	// author looked at: the root, or a later correction of it.
	Correction struct {
		Root        ID    `json:"root"`
		Seen        ID    `json:"seen"`
		Why         Text  `json:"why"`
		Replacement Entry `json:"replacement"`
	}

	// Void withdraws an earlier entry.
	Void struct {
		Root ID   `json:"root"`
		Seen ID   `json:"seen"`
		Why  Text `json:"why"`
	}

	// Erasure says that the texts of a patient's entries were erased.
	Erasure struct {
		Why Text `json:"why"`
	}
)

// The kinds, by body.
func (Admission) Kind() Kind        { return KindAdmission }
func (Occasion) Kind() Kind         { return KindOccasion }
func (Facts) Kind() Kind            { return KindFacts }
func (Review) Kind() Kind           { return KindReview }
func (NotSeen) Kind() Kind          { return KindNotSeen }
func (Dressing) Kind() Kind         { return KindDressing }
func (Transfer) Kind() Kind         { return KindTransfer }
func (Discharge) Kind() Kind        { return KindDischarge }
func (Removal) Kind() Kind          { return KindRemoval }
func (SiteCheck) Kind() Kind        { return KindSiteCheck }
func (InfectionOutcome) Kind() Kind { return KindInfection }
func (Justification) Kind() Kind    { return KindJustification }
func (FollowUp) Kind() Kind         { return KindFollowUp }
func (Correction) Kind() Kind       { return KindCorrection }
func (Void) Kind() Kind             { return KindVoid }
func (Erasure) Kind() Kind          { return KindErasure }
