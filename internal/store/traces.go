package store

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

// NoteAccess notes that somebody opened a patient, or a copy of a person's record.
func (s *Store) NoteAccess(ctx context.Context, a account.Access) error {
	return s.put(ctx, noteAccess, a.Account, a.Subject, a.Line, a.What, a.At.UnixMilli(), a.Record)
}

// Accesses gives who opened a patient, the latest first, limit at most.
func (s *Store) Accesses(ctx context.Context, subject line.Key, limit int) ([]account.Access, error) {
	return all(ctx, s, accessesOf, scanAccess, int64(subject), limit)
}

// LatestAccesses gives who opened any patient, the latest first, limit at most.
func (s *Store) LatestAccesses(ctx context.Context, limit int) ([]account.Access, error) {
	return all(ctx, s, latestAccesses, scanAccess, limit)
}

// Looks gives who opened a copy of a person's record, the latest first, limit at most.
func (s *Store) Looks(ctx context.Context, record line.ID, limit int) ([]account.Access, error) {
	return all(ctx, s, looksAt, scanAccess, string(record), limit)
}

func scanAccess(row scan) (account.Access, error) {
	var a account.Access
	var ms int64
	err := row(&a.Account, &a.Subject, &a.Line, &a.What, &ms, &a.Record)
	a.At = time.UnixMilli(ms).UTC()
	return a, err
}

// KeepDraft keeps a form that could not be taken, for the account that typed it.
func (s *Store) KeepDraft(ctx context.Context, d account.Draft) error {
	return s.write(ctx, func(w *writer) (change, error) { return change{}, w.keepDraft(d) })
}

func (w *writer) keepDraft(d account.Draft) error {
	form, err := json.Marshal(d.Form)
	if err != nil {
		return fmt.Errorf("keep draft %s: %w", d.ID, err)
	}
	return w.exec(keepDraft, d.Account, d.ID, d.Path, string(form), d.At.UnixMilli())
}

// Drafts gives the drafts of an account, oldest first, each with how a device
// carried it.
func (s *Store) Drafts(ctx context.Context, id line.ID) ([]account.Draft, error) {
	return all(ctx, s, draftsOf, func(row scan) (account.Draft, error) {
		var d account.Draft
		var c carriedRow
		var form string
		var ms int64
		if err := row(append([]any{&d.ID, &d.Account, &d.Path, &form, &ms}, c.columns()...)...); err != nil {
			return d, err
		}
		d.At = time.UnixMilli(ms).UTC()
		if c.device != "" {
			carried := c.carried()
			d.Carried = &carried
		}
		return d, json.Unmarshal([]byte(form), &d.Form)
	}, string(id))
}

// DropDraft forgets a draft of the account; one of another account stays.
func (s *Store) DropDraft(ctx context.Context, id line.ID, draft string) error {
	return s.put(ctx, dropDraft, string(id), draft)
}

const accessColumns = "account, subject, line, what, at_ms, record"

var (
	noteAccess = stated(writing, "note who opened what", "INSERT INTO access (account, subject, line, what, at_ms, record) VALUES (?, ?, ?, ?, ?, ?)")
	accessesOf = stated(reading, "read who opened a patient",
		"SELECT "+accessColumns+" FROM access WHERE subject = ? ORDER BY number DESC LIMIT ?")
	latestAccesses = stated(reading, "read who opened patients last", "SELECT "+accessColumns+" FROM access WHERE subject <> 0 ORDER BY number DESC LIMIT ?")
	looksAt        = stated(reading, "read who opened a record",
		"SELECT "+accessColumns+" FROM access WHERE record = ? AND record <> '' ORDER BY number DESC LIMIT ?")
	keepDraft = stated(writing, "keep a draft", "INSERT OR REPLACE INTO draft (account, id, path, form, at_ms) VALUES (?, ?, ?, ?, ?)")
	draftsOf  = stated(reading, "read drafts", `SELECT f.id, f.account, f.path, f.form, f.at_ms,
		coalesce(d.device, ''), coalesce(d.captured_ms, 0), coalesce(d.sent_ms, 0), coalesce(d.ahead_ms, 0), coalesce(d.reason, '')
		FROM draft f LEFT JOIN delivered d ON d.id = f.id AND d.account = f.account
		WHERE f.account = ? ORDER BY f.at_ms, d.captured_ms, f.id`)
	dropDraft = stated(writing, "forget a draft", "DELETE FROM draft WHERE account = ? AND id = ?")
)
