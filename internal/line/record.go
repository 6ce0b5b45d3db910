package line

import "time"

// The forms in which a record answers questions: what a store gives and takes.
type (
	// Batch is entries that are stored together: all or none.
	Batch struct {
		Entries []Entry
		// AsRecorded keeps the recorded times given and lets contradictions
		// stand: the entries were accepted by another record before.
		AsRecorded bool
	}

	// Receipt says that an entry is stored for good.
	Receipt struct {
		ID       ID
		Seq      int64
		Recorded time.Time
		Again    bool // it had been stored before, with the same content
	}

	// SealedEntry is an entry as canonical bytes with the texts kept apart.
	SealedEntry struct {
		Seq       int64 // the giving record's own; 0 where not known
		Canonical []byte
		Texts     []Sealed
	}

	// Record is one entry as it stands in the record.
	Record struct {
		Seq      int64
		Entry    Entry
		Root     ID // the entry itself, or the one it corrects or withdraws
		Replaced ID // the correction or void that came later; empty: it stands
		Received time.Time
	}

	// HouseEntry is one version of an entry of the house: a policy, a ward, the
	// hospital, an account, a link.
	HouseEntry struct {
		Seq     int64 // the root's, which is its place
		Known   int64 // the sequence number of the entry that gave this version
		Gone    int64 // of the entry that replaced or withdrew it; 0: it stands
		Entry   Entry
		WardKey Key // of a ward entry
	}

	// Patient is where a patient is now.
	Patient struct {
		Key       Key
		ID        ID
		Reference string // empty: not identified, or erased
		Ward      Key    // 0: discharged
		LastWard  Key
		Bed       string
		Admitted  Minute
		Erased    bool
	}

	// Current is a line, or an occasion that ended without one, as it stands now.
	Current struct {
		Key       Key
		ID        ID
		Subject   Key
		SubjectID ID
		Ward      Key // now, or the last
		Outcome   Outcome
		Site      Site
		Side      Side
		Gauge     Gauge
		Placed    Minute
		Precision Precision
		Out       Minute // Far while it is in
		Reason    Reason
	}

	// Tried is one attempt, as its operator's own record counts it.
	Tried struct {
		Occasion  Key
		LineID    ID
		At        Minute
		Precision Precision
		No, Of    int // which of the occasion's attempts, from 1
		Site      Site
		Side      Side
		Gauge     Gauge
		Failed    bool
		Fault     Fault
		Outcome   Outcome
		Ward      Key
		Author    ID   // who recorded it, as it stands now
		ByOther   bool // somebody else than its operator

		Difficulty Difficulties // of the vein, as ticked before
		Assessed   bool         // the difficulty was asked: no tick means none
		Supervised bool         // another person was named as supervisor
		Supervisor ID           // where that was an account
		Version    ID           // the entry that says so now: the occasion, or the correction of it
		Agreed     Answer       // the person's, where somebody else recorded it; not said: it waits
	}

	// SharedRecord says whose record was shared with whom, and in which entry
	// the copy stands.
	SharedRecord struct {
		ID        ID
		Entry     ID
		Account   ID
		With      ID
		At        Minute
		TakenBack bool
	}

	// Change says what a commit touched. All: anything may have changed.
	Change struct {
		Subjects []Key
		Wards    []Key
		House    bool
		All      bool
	}
)

// Counts reports whether the attempt counts in the person's record: the person
// wrote it down, or agreed to what somebody else did.
func (t Tried) Counts() bool { return !t.ByOther || t.Agreed == Yes }

// Waits reports whether the person has yet to say whether it was theirs.
func (t Tried) Waits() bool { return t.ByOther && t.Agreed == 0 }
