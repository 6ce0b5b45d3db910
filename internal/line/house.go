package line

// The entries of the house itself: they have no patient, and their happened
// moment is the one they are in force from.
type (
	// Policy puts a policy file in force.
	Policy struct {
		TOML string `json:"toml"` // the file, byte for byte
	}

	// ShiftTime is a time of day on the ward's clock, minutes after midnight.
	ShiftTime int

	// Ward says what holds of a ward: its name, zone, shift times and beds.
	Ward struct {
		Ward   ID          `json:"ward"`
		Name   string      `json:"name"`
		Zone   string      `json:"zone"`                   // IANA name
		Shifts []ShiftTime `json:"shifts,omitzero"`        // when shifts start, ascending; left out: the policy's
		Every  int         `json:"every_minutes,omitzero"` // a clock ward: minutes from look to look
		Beds   []string    `json:"beds,omitzero"`          // in the order of the round
		Closed bool        `json:"closed,omitzero"`
	}

	// Hospital says what holds of the whole house.
	Hospital struct {
		Name      string `json:"name"`
		Zone      string `json:"zone"`
		Reference string `json:"reference_pattern,omitzero"` // regular expression a patient reference must match; empty: any
		Example   string `json:"reference_example,omitzero"` // one that matches, shown beside the field
		Language  string `json:"language,omitzero"`          // BCP 47 tag, for whoever chose none; empty: as each browser asks
	}

	// Account makes or changes a person's account. Secrets stand elsewhere.
	Account struct {
		Account  ID     `json:"account"`
		SignIn   string `json:"sign_in"` // the name typed to sign in
		Name     Text   `json:"name"`
		Initials Text   `json:"initials,omitzero"`
		Role     string `json:"role"` // nurse, doctor, lead or administrator
		Closed   bool   `json:"closed,omitzero"`
		Language string `json:"language,omitzero"` // BCP 47 tag of the one the person chose; empty: none
	}

	// OperatorLink ties a name as written to an account. It counts once the
	// person has accepted it.
	OperatorLink struct {
		Written  Text   `json:"written"`
		Account  ID     `json:"account"`
		Accepted Answer `json:"accepted,omitzero"` // not said: offered
	}
)

// Kind of the house's entries.
func (Policy) Kind() Kind       { return KindPolicy }
func (Ward) Kind() Kind         { return KindWard }
func (Hospital) Kind() Kind     { return KindHospital }
func (Account) Kind() Kind      { return KindAccount }
func (OperatorLink) Kind() Kind { return KindOperatorLink }
