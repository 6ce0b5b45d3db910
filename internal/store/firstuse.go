package store

import (
	"context"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

// KeepInvitations keeps one-time links, each in place of an earlier one to the
// same account.
func (s *Store) KeepInvitations(ctx context.Context, list []account.Invitation) error {
	return s.write(ctx, func(w *writer) (change, error) {
		for _, i := range list {
			key := hashed(i.Token)
			if err := w.exec(keepInvitation, i.Account, key[:], i.Until.UnixMilli()); err != nil {
				return change{}, err
			}
		}
		return change{}, nil
	})
}

// InvitedUntil is how long the account may use the token; ok is false where it
// has no such link, or no longer.
func (s *Store) InvitedUntil(ctx context.Context, id line.ID, token string) (until time.Time, ok bool, err error) {
	key := hashed(token)
	ms, ok, err := one(ctx, s, invitationOf, value[int64], string(id), key[:])
	return time.UnixMilli(ms).UTC(), ok, err
}

// Greeted reports whether the account was told what to know in the role.
func (s *Store) Greeted(ctx context.Context, id line.ID, role account.Role) (bool, error) {
	_, ok, err := one(ctx, s, greetedOf, value[int64], string(id), string(role))
	return ok, err
}

// NoteGreeted notes that the account was told what to know in the role.
func (s *Store) NoteGreeted(ctx context.Context, id line.ID, role account.Role) error {
	return s.put(ctx, noteGreeted, string(id), string(role))
}

var (
	keepInvitation = stated(writing, "keep an invitation", "INSERT OR REPLACE INTO invitation (account, token, until_ms) VALUES (?, ?, ?)")
	invitationOf   = stated(reading, "read an invitation", "SELECT until_ms FROM invitation WHERE account = ? AND token = ?")
	dropInvitation = stated(writing, "drop an invitation", "DELETE FROM invitation WHERE account = ?")
	noteGreeted    = stated(writing, "note a greeting", "INSERT OR IGNORE INTO greeted (account, role) VALUES (?, ?)")
	greetedOf      = stated(reading, "look for a greeting", "SELECT 1 FROM greeted WHERE account = ? AND role = ?")
)
