package store_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// record is what the suite asks of a record on disk, whatever keeps it.
type record interface {
	Append(ctx context.Context, b line.Batch) ([]line.Receipt, error)
	AppendSealed(ctx context.Context, entries []line.SealedEntry) ([]line.Receipt, error)
	Entry(ctx context.Context, id line.ID) (line.Record, error)
	RecordedAt(ctx context.Context, id line.ID) (at time.Time, ok bool, err error)
	History(ctx context.Context, subject line.ID) ([]line.Record, error)
	Entries(ctx context.Context, each func(line.SealedEntry) error) error
	House(ctx context.Context) ([]line.HouseEntry, error)
	WardKeys(ctx context.Context) (map[line.ID]line.Key, error)
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
	Patient(ctx context.Context, id line.ID) (line.Patient, error)
	PatientByKey(ctx context.Context, key line.Key) (line.Patient, error)
	PatientsByReference(ctx context.Context, reference string) ([]line.Patient, error)
	Lines(ctx context.Context, subject line.Key) ([]line.Current, error)
	Line(ctx context.Context, id line.ID) (line.Current, error)
	LineOf(ctx context.Context, id line.ID) (line.Current, line.Patient, error)
	Beds(ctx context.Context, moves []int64) (map[int64]string, error)
	LinesByKey(ctx context.Context, keys []line.Key) (map[line.Key]line.Current, error)
	Attempts(ctx context.Context, account line.ID) ([]line.Tried, error)
	Stopped(ctx context.Context, account line.ID) (int, error)
	EveryAttempt(ctx context.Context, in line.Stretch, f func(line.Operator, line.Tried)) error
	SharesBy(ctx context.Context, account line.ID) ([]line.SharedRecord, error)
	SharesWith(ctx context.Context, reader line.ID) ([]line.SharedRecord, error)
	Share(ctx context.Context, id line.ID) (line.SharedRecord, error)
	Looks(ctx context.Context, record line.ID, limit int) ([]account.Access, error)
	Accounts(ctx context.Context) ([]account.Account, error)
	Account(ctx context.Context, id line.ID) (account.Account, error)
	AccountBySignIn(ctx context.Context, name string) (account.Account, error)
	SetSecret(ctx context.Context, id line.ID, hash string) error
	Secret(ctx context.Context, id line.ID) (string, error)
	Generation(ctx context.Context, id line.ID) (int64, error)
	NextGeneration(ctx context.Context, id line.ID) error
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
	KeepInvitations(ctx context.Context, list []account.Invitation) error
	InvitedUntil(ctx context.Context, id line.ID, token string) (until time.Time, ok bool, err error)
	Greeted(ctx context.Context, id line.ID, role account.Role) (bool, error)
	NoteGreeted(ctx context.Context, id line.ID, role account.Role) error
	NoteAccess(ctx context.Context, a account.Access) error
	Accesses(ctx context.Context, subject line.Key, limit int) ([]account.Access, error)
	LatestAccesses(ctx context.Context, limit int) ([]account.Access, error)
	KeepDraft(ctx context.Context, d account.Draft) error
	Drafts(ctx context.Context, id line.ID) ([]account.Draft, error)
	DropDraft(ctx context.Context, id line.ID, draft string) error
	NoteDelivered(ctx context.Context, d account.Delivered, waiting *account.Draft) error
	Delivered(ctx context.Context, id string) (d account.Delivered, ok bool, err error)
	Sessions() scs.CtxStore
	OnChange(f func(line.Change))
	Rebuild(ctx context.Context) (store.Rebuilt, error)
	Verify(ctx context.Context) (*store.Verified, error)
	Root(ctx context.Context) (size int64, root tlog.Hash, err error)
	Begins(ctx context.Context, size int64, root tlog.Hash) (bool, error)
	Backup(ctx context.Context, to string) error
	Check(ctx context.Context) error
	Close() error
}

// open gives a fresh, empty record. Another backend runs the suite by putting
// its own here.
var open = func(t testing.TB, o store.Options) record {
	t.Helper()
	return openFile(t, freshFile(t), o)
}

func openFile(t testing.TB, path string, o store.Options) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), path, o)
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	return s
}

// template is a file that was migrated once, to be copied by every test.
var template = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "record")
	if err != nil {
		return nil, err
	}
	defer func() { _ = os.RemoveAll(dir) }()
	path := filepath.Join(dir, "template.db")
	s, err := store.Open(context.Background(), path, store.Options{})
	if err != nil {
		return nil, err
	}
	if err := s.Close(); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

func freshFile(t testing.TB) string {
	t.Helper()
	empty, err := template()
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "record.db")
	require.NoError(t, os.WriteFile(path, empty, 0o600))
	return path
}

// noon is the moment at which the tests' records begin.
var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func at(hours float64) line.Minute {
	return line.MinuteOf(noon.Add(time.Duration(hours * float64(time.Hour))))
}

// clock is a clock that tests set.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) set(hours float64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = noon.Add(time.Duration(hours * float64(time.Hour)))
}

// ward is a record with a clock, told in the words of a ward.
type ward struct {
	record
	t     testing.TB
	clock *clock
	n     int
}

func newWard(t testing.TB) *ward {
	t.Helper()
	c := &clock{}
	c.set(1000)
	return &ward{record: open(t, store.Options{Clock: c.Now}), t: t, clock: c}
}

// entry makes an entry of a patient; the id is given by the order of making.
func (w *ward) entry(subject, lineID line.ID, hours float64, body line.Body) line.Entry {
	w.n++
	return line.Entry{
		Version: 1, ID: line.ID(fmt.Sprintf("e%d", w.n)), Kind: body.Kind(), Subject: subject, Line: lineID, Author: "nurse-1",
		Happened: at(hours), Precision: line.ToMinute, Body: body,
	}
}

// must stores entries together and gives the first's id.
func (w *ward) must(entries ...line.Entry) line.ID {
	w.t.Helper()
	_, err := w.Append(w.t.Context(), line.Batch{Entries: entries})
	require.NoError(w.t, err)
	return entries[0].ID
}

func (w *ward) refused(key string, entries ...line.Entry) *fault.Error {
	w.t.Helper()
	before, err := w.LastSeq(w.t.Context())
	require.NoError(w.t, err)
	_, err = w.Append(w.t.Context(), line.Batch{Entries: entries})
	var f *fault.Error
	require.ErrorAs(w.t, err, &f)
	require.Equal(w.t, key, f.Key, "%v", err)
	after, err := w.LastSeq(w.t.Context())
	require.NoError(w.t, err)
	require.Equal(w.t, before, after, "a refused append leaves nothing")
	return f
}

func (w *ward) admission(subject line.ID, hours float64, ward line.ID) line.Entry {
	return w.entry(subject, "", hours, line.Admission{Ward: ward, Bed: "4", Reference: line.Text("R-" + subject)})
}

func (w *ward) placement(subject, lineID line.ID, hours float64) line.Entry {
	return w.entry(subject, lineID, hours, line.Occasion{
		Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull,
		Operator: line.Operator{Account: "doctor-1"},
	})
}

func (w *ward) review(subject, lineID line.ID, hours float64) line.Entry {
	return w.entry(subject, lineID, hours, line.Review{Dressing: line.SetOf(line.Intact), Note: "seen"})
}

func (w *ward) removal(subject, lineID line.ID, hours float64) line.Entry {
	return w.entry(subject, lineID, hours, line.Removal{Reason: line.NotNeeded})
}

func (w *ward) correction(root, seen line.ID, replacement line.Entry) line.Entry {
	c := w.entry(replacement.Subject, "", 0, line.Correction{Root: root, Seen: seen, Why: "typed wrong", Replacement: replacement})
	c.Happened = replacement.Happened
	return c
}

func (w *ward) void(subject, root, seen line.ID) line.Entry {
	return w.entry(subject, "", 0, line.Void{Root: root, Seen: seen, Why: "wrong patient"})
}

func (w *ward) key(subject line.ID) line.Key {
	w.t.Helper()
	p, err := w.Patient(w.t.Context(), subject)
	require.NoError(w.t, err)
	return p.Key
}

func (w *ward) marks(subject line.ID, seq int64) []line.Mark {
	w.t.Helper()
	marks, err := w.Marks(w.t.Context(), w.key(subject), seq)
	require.NoError(w.t, err)
	return marks
}

// sealed gives the whole record as another would be given it.
func sealed(t testing.TB, r record) []line.SealedEntry {
	t.Helper()
	var all []line.SealedEntry
	require.NoError(t, r.Entries(t.Context(), func(e line.SealedEntry) error {
		all = append(all, e)
		return nil
	}))
	return all
}

// requireRebuilt holds where a rebuild finds nothing that differs.
func requireRebuilt(t require.TestingT, r record) {
	result, err := r.Rebuild(context.Background())
	require.NoError(t, err)
	require.True(t, result.Clean(), "%+v", result.Tables)
	requireVerified(t, r)
}

// requireVerified holds where the record is as its log says, to the root.
func requireVerified(t require.TestingT, r record) {
	v, err := r.Verify(context.Background())
	require.NoError(t, err)
	require.True(t, v.Clean(), "%+v", v)
	size, root, err := r.Root(context.Background())
	require.NoError(t, err)
	require.Equal(t, size, v.Size)
	again, ok := v.Root(size)
	require.True(t, ok)
	require.Equal(t, root, again)
}
