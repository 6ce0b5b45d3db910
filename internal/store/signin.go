package store

import (
	"context"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

// failuresKept is how long failed sign-ins are kept.
const failuresKept = 24 * time.Hour

// NoteSignInFailure notes that somebody failed to sign in under the name, at
// the place, and forgets the failures of long ago.
func (s *Store) NoteSignInFailure(ctx context.Context, name, place string, at time.Time) error {
	return s.write(ctx, func(w *writer) (change, error) {
		if err := w.exec(dropFailures, at.Add(-failuresKept).UnixMilli()); err != nil {
			return change{}, err
		}
		return change{}, w.exec(noteFailure, name, place, at.UnixMilli())
	})
}

// SignInFailures counts the failures from since on under the name at the
// place; with one of them empty, at any place or under any name. Without a
// failure the last is the zero time.
func (s *Store) SignInFailures(ctx context.Context, name, place string, since time.Time) (account.Failures, error) {
	st, args := failuresHere, []any{name, place}
	switch {
	case place == "":
		st, args = failuresOf, args[:1]
	case name == "":
		st, args = failuresAt, args[1:]
	}
	f, _, err := one(ctx, s, st, func(row scan) (f account.Failures, err error) {
		var ms int64
		if err = row(&f.N, &ms); f.N > 0 {
			f.Last = time.UnixMilli(ms).UTC()
		}
		return f, err
	}, append(args, since.UnixMilli())...)
	return f, err
}

// ClearSignInFailures forgets the failures under the name at the place.
func (s *Store) ClearSignInFailures(ctx context.Context, name, place string) error {
	f, err := s.SignInFailures(ctx, name, place, time.UnixMilli(0))
	if err != nil || f.N == 0 {
		return err
	}
	return s.put(ctx, clearFailures, name, place)
}

// KnowDevice notes that a person signed in on a device.
func (s *Store) KnowDevice(ctx context.Context, device string, id line.ID) error {
	if known, err := s.KnownDevice(ctx, device, id); err != nil || known {
		return err
	}
	return s.put(ctx, knowDevice, device, string(id))
}

// KnownDevice reports whether a person has signed in on a device.
func (s *Store) KnownDevice(ctx context.Context, device string, id line.ID) (bool, error) {
	_, ok, err := one(ctx, s, knownDevice, value[int], device, string(id))
	return ok, err
}

const countFailures = "SELECT count(*), coalesce(max(at_ms), 0) FROM sign_in_failure WHERE "

var (
	noteFailure   = stated(writing, "note a failed sign-in", "INSERT INTO sign_in_failure (name, place, at_ms) VALUES (?, ?, ?)")
	dropFailures  = stated(writing, "drop old failed sign-ins", "DELETE FROM sign_in_failure WHERE at_ms < ?")
	failuresHere  = stated(reading, "count failed sign-ins under a name at a place", countFailures+"name = ? AND place = ? AND at_ms >= ?")
	failuresOf    = stated(reading, "count failed sign-ins under a name", countFailures+"name = ? AND at_ms >= ?")
	failuresAt    = stated(reading, "count failed sign-ins at a place", countFailures+"place = ? AND at_ms >= ?")
	clearFailures = stated(writing, "forget failed sign-ins", "DELETE FROM sign_in_failure WHERE name = ? AND place = ?")
	knowDevice    = stated(writing, "note a device of a person", "INSERT INTO known_device (device, account) VALUES (?, ?) ON CONFLICT DO NOTHING")
	knownDevice   = stated(reading, "look for a device of a person", "SELECT 1 FROM known_device WHERE device = ? AND account = ?")
)
