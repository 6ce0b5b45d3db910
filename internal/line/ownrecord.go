package line

// What a person says of their own record. These are entries of the house too:
// they are of no patient, and no ward sees them.
type (
	// AttemptAgreement is a person's answer to attempts that somebody else wrote
	// down as theirs: those of one occasion, as one version of it has them. The
	// last answer counts.
	AttemptAgreement struct {
		Account ID     `json:"account"`
		Version ID     `json:"version"` // the occasion's entry, or the correction of it
		Agreed  Answer `json:"agreed"`
	}

	// RecordShare lets With read a copy of the record of Account, as it was at
	// the entry's moment, until another entry with the same Share takes it back.
	RecordShare struct {
		Share     ID          `json:"share"`
		Account   ID          `json:"account"`
		With      ID          `json:"with"`
		Attempts  []TriedCopy `json:"attempts,omitzero"`
		Stopped   int         `json:"stopped,omitzero"` // occasions that ended before skin
		TakenBack bool        `json:"taken_back,omitzero"`
	}

	// TriedCopy is one attempt of a copy: nothing in it leads to a patient.
	TriedCopy struct {
		Occasion   int          `json:"occasion"` // numbered from 1 within the copy
		At         Minute       `json:"at"`
		Precision  Precision    `json:"precision"`
		No         int          `json:"no"`
		Of         int          `json:"of,omitzero"`
		Site       Site         `json:"site,omitzero"`
		Side       Side         `json:"side,omitzero"`
		Gauge      Gauge        `json:"gauge,omitzero"`
		Failed     bool         `json:"failed"`
		Fault      Fault        `json:"fault,omitzero"`
		Outcome    Outcome      `json:"outcome"`
		Ward       ID           `json:"ward,omitzero"`
		Difficulty Difficulties `json:"difficulty,omitzero"`
		Supervised bool         `json:"supervised,omitzero"`
	}
)

// Kind of a person's entries.
func (AttemptAgreement) Kind() Kind { return KindAttemptAgreement }
func (RecordShare) Kind() Kind      { return KindRecordShare }
