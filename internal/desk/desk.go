// Package desk answers each question and takes each act once, for the screens
// and the commands alike: it checks the right, loads, assesses, and notes who
// opened which patient. It knows no SQL and no HTTP.
//
// Every method that shows or changes anything of a patient takes the Person
// who asks. The commands, run by whoever has the right to the file, ask as
// System.
package desk

import (
	"context"
	"time"

	"golang.org/x/mod/sumdb/tlog"
	"golang.org/x/sync/singleflight"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

// Ledger is the record itself.
type Ledger interface {
	Append(ctx context.Context, b line.Batch) ([]line.Receipt, error)
	AppendSealed(ctx context.Context, entries []line.SealedEntry) ([]line.Receipt, error)
	Entry(ctx context.Context, id line.ID) (line.Record, error)
	RecordedAt(ctx context.Context, id line.ID) (at time.Time, ok bool, err error)
	History(ctx context.Context, subject line.ID) ([]line.Record, error)
	Entries(ctx context.Context, each func(line.SealedEntry) error) error
	House(ctx context.Context) ([]line.HouseEntry, error)
}

// Reader gives what the audit reads.
type Reader interface {
	LastSeq(ctx context.Context) (int64, error)
	SeqBefore(ctx context.Context, known time.Time) (int64, error)
	Marks(ctx context.Context, subject line.Key, seq int64) ([]line.Mark, error)
	MarksOf(ctx context.Context, subjects []line.Key, seq int64, each func(line.Key, []line.Mark) error) error
	WardPatients(ctx context.Context, ward line.Key) ([]line.Patient, error)
	Candidates(ctx context.Context, from, until line.Minute) ([]line.Key, error)
	WardCandidates(ctx context.Context, ward line.Key, from, until line.Minute) ([]line.Key, error)
	FollowUps(ctx context.Context, in line.Stretch) ([]line.Mark, error)
	Courses(ctx context.Context, in line.Stretch, f func(line.Course)) error
	Inserters(ctx context.Context, in line.Stretch) (map[line.Key]line.ID, error)
}

// Finder finds patients and lines.
type Finder interface {
	Patient(ctx context.Context, id line.ID) (line.Patient, error)
	PatientByKey(ctx context.Context, key line.Key) (line.Patient, error)
	PatientsByReference(ctx context.Context, reference string) ([]line.Patient, error)
	Lines(ctx context.Context, subject line.Key) ([]line.Current, error)
	Line(ctx context.Context, id line.ID) (line.Current, error)
	LineOf(ctx context.Context, id line.ID) (line.Current, line.Patient, error)
	Beds(ctx context.Context, moves []int64) (map[int64]string, error)
	LinesByKey(ctx context.Context, keys []line.Key) (map[line.Key]line.Current, error)
}

// Own gives a person's own attempts, and the copies of them that were shared.
type Own interface {
	Attempts(ctx context.Context, account line.ID) ([]line.Tried, error)
	Stopped(ctx context.Context, account line.ID) (int, error)
	EveryAttempt(ctx context.Context, in line.Stretch, f func(line.Operator, line.Tried)) error
	SharesBy(ctx context.Context, account line.ID) ([]line.SharedRecord, error)
	SharesWith(ctx context.Context, reader line.ID) ([]line.SharedRecord, error)
	Share(ctx context.Context, id line.ID) (line.SharedRecord, error)
}

// People keeps accounts and their secrets.
type People interface {
	Accounts(ctx context.Context) ([]account.Account, error)
	Account(ctx context.Context, id line.ID) (account.Account, error)
	AccountBySignIn(ctx context.Context, name string) (account.Account, error)
	SetSecret(ctx context.Context, id line.ID, hash string) error
	Secret(ctx context.Context, id line.ID) (string, error)
	Generation(ctx context.Context, id line.ID) (int64, error)
	NextGeneration(ctx context.Context, id line.ID) error
}

// Gate keeps what sign-in needs.
type Gate interface {
	NoteSignInFailure(ctx context.Context, name, place string, at time.Time) error
	SignInFailures(ctx context.Context, name, place string, since time.Time) (account.Failures, error)
	ClearSignInFailures(ctx context.Context, name, place string) error
	KnowDevice(ctx context.Context, device string, id line.ID) error
	KnownDevice(ctx context.Context, device string, id line.ID) (bool, error)
	SecondStep(ctx context.Context, id line.ID) (account.SecondStep, bool, error)
	SetSecondStep(ctx context.Context, id line.ID, step account.SecondStep) error
	UseStep(ctx context.Context, id line.ID, step int64) (bool, error)
	DropSecondStep(ctx context.Context, id line.ID) error
	SetRecoveryCodes(ctx context.Context, id line.ID, hashes []string) error
	UseRecoveryCode(ctx context.Context, id line.ID, hash string) (bool, error)
	RecoveryCodes(ctx context.Context, id line.ID) (int, error)
	Tablets(ctx context.Context) ([]account.Tablet, error)
	Tablet(ctx context.Context, device string) (account.Tablet, bool, error)
	SetTablet(ctx context.Context, t account.Tablet) error
	DropTablet(ctx context.Context, device string) error
	PINHolders(ctx context.Context, device string) ([]line.ID, error)
	SetPIN(ctx context.Context, id line.ID, hash string) error
	PIN(ctx context.Context, id line.ID) (string, bool, error)
	Setting(ctx context.Context, name string) (string, bool, error)
	SettingOr(ctx context.Context, name, value string) (string, error)
	SetSetting(ctx context.Context, name, value string) error
	DeleteSetting(ctx context.Context, name string) error
}

// Log is the record's Merkle tree.
type Log interface {
	Root(ctx context.Context) (size int64, root tlog.Hash, err error)
	Begins(ctx context.Context, size int64, root tlog.Hash) (bool, error)
}

// FirstUse keeps who may choose a passphrase, and who was told what to know.
type FirstUse interface {
	KeepInvitations(ctx context.Context, list []account.Invitation) error
	InvitedUntil(ctx context.Context, id line.ID, token string) (until time.Time, ok bool, err error)
	Greeted(ctx context.Context, id line.ID, role account.Role) (bool, error)
	NoteGreeted(ctx context.Context, id line.ID, role account.Role) error
}

// Traces keeps who opened what, what was typed and could not be taken, and
// what devices have handed over.
type Traces interface {
	NoteAccess(ctx context.Context, a account.Access) error
	Accesses(ctx context.Context, subject line.Key, limit int) ([]account.Access, error)
	LatestAccesses(ctx context.Context, limit int) ([]account.Access, error)
	Looks(ctx context.Context, record line.ID, limit int) ([]account.Access, error)
	KeepDraft(ctx context.Context, d account.Draft) error
	Drafts(ctx context.Context, id line.ID) ([]account.Draft, error)
	DropDraft(ctx context.Context, id line.ID, draft string) error
	NoteDelivered(ctx context.Context, d account.Delivered, waiting *account.Draft) error
	Delivered(ctx context.Context, id string) (d account.Delivered, ok bool, err error)
}

// Store is everything the desk stands on.
type Store interface {
	Ledger
	Reader
	Finder
	Own
	People
	Gate
	FirstUse
	Traces
	Log
	OnChange(f func(line.Change))
}

// Person is who asks.
type Person struct {
	account.Account
	system bool
}

// System is whoever runs a command with the right to the file.
func System() Person {
	return Person{Account: account.Account{ID: SystemID, Name: "system"}, system: true}
}

// SystemID is the author of what no person typed.
const SystemID = "system"

// May reports whether the person has the right.
func (p Person) May(right account.Right) bool { return p.system || p.Account.May(right) }

// Desk is safe for use by many at once.
type Desk struct {
	store    Store
	clock    func() time.Time
	house    *houseCache
	cases    *caseCache
	hub      *hub
	boards   singleflight.Group
	evidence aged[struct{}, *outcomes.Evidence]
	mail     mail
	along    along
	mixes    aged[outcomes.Unit, *outcomes.CaseMix]
	unnoted  unnoted
	hashing  chan struct{}  // holds those who hash a passphrase
	backups  func() Backups // nil: nobody watches them
}

// New makes a desk over a store. clock is the server's.
func New(store Store, clock func() time.Time) *Desk {
	d := &Desk{store: store, clock: clock, house: &houseCache{}, cases: newCaseCache(), hub: newHub(), hashing: make(chan struct{}, mostHashing)}
	store.OnChange(func(c line.Change) {
		if c.House || c.All {
			d.house.forget()
		}
		d.cases.forget(c)
		d.hub.publish(c)
	})
	return d
}

// Now is the current minute on the desk's clock.
func (d *Desk) Now() line.Minute { return line.MinuteOf(d.clock()) }

// require refuses who lacks the right.
func (p Person) require(right account.Right) error {
	if p.May(right) {
		return nil
	}
	if p.ID == "" {
		return fault.New(fault.Unauthenticated, "fault.sign-in-first")
	}
	return fault.New(fault.Forbidden, "fault.not-your-right", "right", right)
}

// see notes that the person opened the patient, or one of their lines.
func (d *Desk) see(ctx context.Context, who Person, subject, on line.Key, what string) error {
	if who.system {
		return nil
	}
	if ctx.Value(alongKey{}) != nil {
		if !d.along.first(who.ID, subject, d.clock()) {
			return nil
		}
		what = "taken-along"
	}
	return d.note(ctx, account.Access{Account: who.ID, Subject: int64(subject), Line: int64(on), What: what, At: d.clock()})
}

// assessAll assesses many subjects in one read of the record, those that are
// not kept; what it finds is kept for assess.
func (d *Desk) assessAll(ctx context.Context, h *House, patients []line.Patient) error {
	now := d.Now()
	var missing []line.Key
	for _, p := range patients {
		if d.cases.get(p.Key, now) == nil {
			missing = append(missing, p.Key)
		}
	}
	if len(missing) == 0 {
		return nil
	}
	since := d.cases.mark()
	return d.store.MarksOf(ctx, missing, 0, func(subject line.Key, marks []line.Mark) error {
		a := audit.Assess(h.Rulebook, marks, now)
		d.cases.put(subject, &a, since)
		return nil
	})
}

// assess is the one way from a subject to its assessment now.
func (d *Desk) assess(ctx context.Context, h *House, subject line.Key) (*audit.Assessment, error) {
	now := d.Now()
	if a := d.cases.get(subject, now); a != nil {
		return a, nil
	}
	since := d.cases.mark()
	marks, err := d.store.Marks(ctx, subject, 0)
	if err != nil {
		return nil, err
	}
	a := audit.Assess(h.Rulebook, marks, now)
	d.cases.put(subject, &a, since)
	return &a, nil
}
