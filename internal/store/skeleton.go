// Package store is the record on disk.
package store

import (
	"context"
	"errors"
	"time"

	"github.com/alexedwards/scs/v2"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

// Options tunes a store; the zero value is right for use.
type Options struct {
	Clock func() time.Time // the record's clock; left out: the machine's
	Salt  func() string    // a fresh salt for each text; left out: 16 random bytes in base64
	Poll  time.Duration    // how often to look for another process's writes; left out: each second
}

// Store is the record on disk.
type Store struct{}

var errUnbuilt = errors.New("store: being built")

// Open opens the record for reading and writing.
func Open(ctx context.Context, path string, o Options) (*Store, error) { return nil, errUnbuilt }

// OpenReadOnly opens a record for reading.
func OpenReadOnly(ctx context.Context, path string) (*Store, error) { return nil, errUnbuilt }

func (s *Store) Close() error { return errUnbuilt }
func (s *Store) Append(ctx context.Context, b line.Batch) ([]line.Receipt, error) {
	return nil, errUnbuilt
}
func (s *Store) AppendSealed(ctx context.Context, entries []line.SealedEntry) ([]line.Receipt, error) {
	return nil, errUnbuilt
}
func (s *Store) LastSeq(ctx context.Context) (int64, error)                    { return 0, errUnbuilt }
func (s *Store) SeqBefore(ctx context.Context, known time.Time) (int64, error) { return 0, errUnbuilt }
func (s *Store) House(ctx context.Context) ([]line.HouseEntry, error)          { return nil, errUnbuilt }
func (s *Store) Marks(ctx context.Context, subject line.Key, seq int64) ([]line.Mark, error) {
	return nil, errUnbuilt
}
func (s *Store) MarksOf(ctx context.Context, subjects []line.Key, seq int64, each func(line.Key, []line.Mark) error) error {
	return errUnbuilt
}
func (s *Store) WardPatients(ctx context.Context, ward line.Key) ([]line.Patient, error) {
	return nil, errUnbuilt
}
func (s *Store) Candidates(ctx context.Context, from, until line.Minute) ([]line.Key, error) {
	return nil, errUnbuilt
}
func (s *Store) Patient(ctx context.Context, id line.ID) (line.Patient, error) {
	return line.Patient{}, errUnbuilt
}
func (s *Store) PatientByKey(ctx context.Context, key line.Key) (line.Patient, error) {
	return line.Patient{}, errUnbuilt
}
func (s *Store) PatientsByReference(ctx context.Context, reference string) ([]line.Patient, error) {
	return nil, errUnbuilt
}
func (s *Store) Lines(ctx context.Context, subject line.Key) ([]line.Current, error) {
	return nil, errUnbuilt
}
func (s *Store) Line(ctx context.Context, id line.ID) (line.Current, error) {
	return line.Current{}, errUnbuilt
}
func (s *Store) LinesByKey(ctx context.Context, keys []line.Key) (map[line.Key]line.Current, error) {
	return nil, errUnbuilt
}
func (s *Store) History(ctx context.Context, subject line.ID) ([]line.Record, error) {
	return nil, errUnbuilt
}
func (s *Store) Entry(ctx context.Context, id line.ID) (line.Record, error) {
	return line.Record{}, errUnbuilt
}
func (s *Store) Entries(ctx context.Context, each func(line.SealedEntry) error) error {
	return errUnbuilt
}
func (s *Store) Attempts(ctx context.Context, id line.ID) ([]line.Tried, error) {
	return nil, errUnbuilt
}
func (s *Store) Stopped(ctx context.Context, id line.ID) (int, error)       { return 0, errUnbuilt }
func (s *Store) WardKeys(ctx context.Context) (map[line.ID]line.Key, error) { return nil, errUnbuilt }
func (s *Store) Backup(ctx context.Context, to string) error                { return errUnbuilt }
func (s *Store) Check(ctx context.Context) error                            { return errUnbuilt }
func (s *Store) Rebuild(ctx context.Context) (Rebuilt, error)               { return Rebuilt{}, errUnbuilt }
func (s *Store) OnChange(f func(line.Change))                               {}
func (s *Store) Accounts(ctx context.Context) ([]account.Account, error)    { return nil, errUnbuilt }
func (s *Store) Account(ctx context.Context, id line.ID) (account.Account, error) {
	return account.Account{}, errUnbuilt
}
func (s *Store) AccountBySignIn(ctx context.Context, name string) (account.Account, error) {
	return account.Account{}, errUnbuilt
}
func (s *Store) SetSecret(ctx context.Context, id line.ID, hash string) error { return errUnbuilt }
func (s *Store) Secret(ctx context.Context, id line.ID) (string, error)       { return "", errUnbuilt }
func (s *Store) NoteSignInFailure(ctx context.Context, name string, at time.Time) error {
	return errUnbuilt
}
func (s *Store) SignInFailures(ctx context.Context, name string, since time.Time) (int, time.Time, error) {
	return 0, time.Time{}, errUnbuilt
}
func (s *Store) ClearSignInFailures(ctx context.Context, name string) error { return errUnbuilt }
func (s *Store) Setting(ctx context.Context, name string) (string, bool, error) {
	return "", false, errUnbuilt
}
func (s *Store) SetSetting(ctx context.Context, name, value string) error { return errUnbuilt }
func (s *Store) DeleteSetting(ctx context.Context, name string) error     { return errUnbuilt }
func (s *Store) NoteAccess(ctx context.Context, a account.Access) error   { return errUnbuilt }
func (s *Store) Accesses(ctx context.Context, subject line.Key, limit int) ([]account.Access, error) {
	return nil, errUnbuilt
}
func (s *Store) KeepDraft(ctx context.Context, d account.Draft) error { return errUnbuilt }
func (s *Store) Drafts(ctx context.Context, id line.ID) ([]account.Draft, error) {
	return nil, errUnbuilt
}
func (s *Store) DropDraft(ctx context.Context, id line.ID, draft string) error { return errUnbuilt }

// Sessions is where sign-ins are kept.
func (s *Store) Sessions() scs.CtxStore { return nil }

// Rebuilt says how the derived tables differed from what the entries give.
type Rebuilt struct {
	Entries int64
	Tables  []TableDifference
}

// TableDifference counts the rows of one derived table that were wrong.
type TableDifference struct {
	Table   string
	Rows    int64 // as remade
	Missing int64 // in the entries, not in the table
	Surplus int64 // in the table, not in the entries
}
