package store

import (
	"context"
	"crypto/sha256"
	"sync"
	"time"

	"github.com/alexedwards/scs/v2"

	"dwellbook/internal/line"
)

// put is an act of writing by one statement that changes nothing of the record.
func (s *Store) put(ctx context.Context, st *statement, args ...any) error {
	return s.write(ctx, func(w *writer) (change, error) { return change{}, w.exec(st, args...) })
}

// SetSecret keeps the hashed passphrase of an account, under a new generation;
// an invitation that is still open ends.
func (s *Store) SetSecret(ctx context.Context, account line.ID, hash string) error {
	return s.write(ctx, func(w *writer) (change, error) {
		if err := w.exec(dropInvitation, string(account)); err != nil {
			return change{}, err
		}
		return change{}, w.exec(setSecret, string(account), hash)
	})
}

// Secret is the hashed passphrase of an account. NotFound: store.no-secret.
func (s *Store) Secret(ctx context.Context, account line.ID) (string, error) {
	return found(ctx, s, secretOf, value[string], "store.no-secret", string(account))
}

// Generation is how often the secret of an account was set or its sessions were
// ended; 0 where there is no secret.
func (s *Store) Generation(ctx context.Context, account line.ID) (int64, error) {
	n, _, err := one(ctx, s, generationOf, value[int64], string(account))
	return n, err
}

// NextGeneration ends what stands on the generation of an account's secret.
func (s *Store) NextGeneration(ctx context.Context, account line.ID) error {
	return s.put(ctx, nextGeneration, string(account))
}

// Setting is a value kept under a name; ok is false where there is none.
func (s *Store) Setting(ctx context.Context, name string) (text string, ok bool, err error) {
	return one(ctx, s, settingOf, value[string], name)
}

// SettingOr is the value kept under a name; where there is none, value, which
// is kept from then on. Of many that ask at once, all get the same.
func (s *Store) SettingOr(ctx context.Context, name, value string) (string, error) {
	kept, ok, err := s.Setting(ctx, name)
	if err != nil || ok {
		return kept, err
	}
	if err := s.put(ctx, newSetting, name, value); err != nil {
		return "", err
	}
	kept, _, err = s.Setting(ctx, name)
	return kept, err
}

// SetSetting keeps a value under a name.
func (s *Store) SetSetting(ctx context.Context, name, value string) error {
	return s.put(ctx, setSetting, name, value)
}

// DeleteSetting forgets a value.
func (s *Store) DeleteSetting(ctx context.Context, name string) error {
	return s.put(ctx, deleteSetting, name)
}

// sessions keeps sign-ins for the session manager, by hashed token. Those read
// are remembered until they are written again.
type sessions struct {
	*Store
	mu   sync.RWMutex
	read map[[sha256.Size]byte]session
}

type session struct {
	data      []byte
	expiresMS int64
}

// mostSessions bounds the sessions that are remembered.
const mostSessions = 4096

// Sessions is where sign-ins are kept. Tokens are stored as SHA-256, so that
// whoever reads the file cannot take over a session.
func (s *Store) Sessions() scs.CtxStore {
	return &sessions{Store: s, read: map[[sha256.Size]byte]session{}}
}

// hashed is the form in which a token is kept.
func hashed(token string) [sha256.Size]byte { return sha256.Sum256([]byte(token)) }

// FindCtx gives the data of a session that has not ended.
func (s *sessions) FindCtx(ctx context.Context, token string) (data []byte, ok bool, err error) {
	key := hashed(token)
	s.mu.RLock()
	found, ok := s.read[key]
	s.mu.RUnlock()
	if !ok {
		if found, ok, err = s.find(ctx, key); err != nil || !ok {
			return nil, false, err
		}
	}
	if found.expiresMS <= s.options.Clock().UnixMilli() {
		return nil, false, nil
	}
	return found.data, true, nil
}

// find reads a session. The lock is held meanwhile: what a write makes stale is
// forgotten after it was remembered, never before.
func (s *sessions) find(ctx context.Context, key [sha256.Size]byte) (session, bool, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	found, ok, err := one(ctx, s.Store, sessionOf, func(row scan) (session, error) {
		var found session
		return found, row(&found.data, &found.expiresMS)
	}, key[:])
	if err != nil || !ok {
		return found, ok, err
	}
	if len(s.read) >= mostSessions {
		clear(s.read)
	}
	s.read[key] = found
	return found, true, nil
}

// forget drops a session from memory, once it was written.
func (s *sessions) forget(key [sha256.Size]byte) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.read, key)
}

// CommitCtx keeps a session until expiry, and drops those that have ended.
func (s *sessions) CommitCtx(ctx context.Context, token string, data []byte, expiry time.Time) error {
	now := s.options.Clock().UnixMilli()
	key := hashed(token)
	defer s.forget(key)
	return s.write(ctx, func(w *writer) (change, error) {
		if err := w.exec(dropEnded, now); err != nil {
			return change{}, err
		}
		return change{}, w.exec(keepSession, key[:], data, expiry.UnixMilli())
	})
}

// DeleteCtx ends a session.
func (s *sessions) DeleteCtx(ctx context.Context, token string) error {
	key := hashed(token)
	defer s.forget(key)
	return s.put(ctx, dropSession, key[:])
}

// Find, Commit and Delete are those above without a context.
func (s *sessions) Find(token string) ([]byte, bool, error) { return s.FindCtx(background, token) }

// Commit is CommitCtx without a context.
func (s *sessions) Commit(token string, data []byte, expiry time.Time) error {
	return s.CommitCtx(background, token, data, expiry)
}

// Delete is DeleteCtx without a context.
func (s *sessions) Delete(token string) error { return s.DeleteCtx(background, token) }

var (
	setSecret = stated(writing, "keep a secret",
		"INSERT INTO secret (account, hash) VALUES (?, ?) ON CONFLICT (account) DO UPDATE SET hash = excluded.hash, generation = generation + 1")
	generationOf   = stated(reading, "read a secret's generation", "SELECT generation FROM secret WHERE account = ?")
	nextGeneration = stated(writing, "end a secret's generation", "UPDATE secret SET generation = generation + 1 WHERE account = ?")
	secretOf       = stated(reading, "read a secret", "SELECT hash FROM secret WHERE account = ?")
	settingOf      = stated(reading, "read a setting", "SELECT value FROM setting WHERE name = ?")
	setSetting     = stated(writing, "keep a setting", "INSERT OR REPLACE INTO setting (name, value) VALUES (?, ?)")
	newSetting     = stated(writing, "keep a setting where there is none", "INSERT INTO setting (name, value) VALUES (?, ?) ON CONFLICT DO NOTHING")
	deleteSetting  = stated(writing, "forget a setting", "DELETE FROM setting WHERE name = ?")
	sessionOf      = stated(reading, "read a session", "SELECT data, expires_ms FROM session WHERE token = ?")
	keepSession    = stated(writing, "keep a session", "INSERT OR REPLACE INTO session (token, data, expires_ms) VALUES (?, ?, ?)")
	dropSession    = stated(writing, "end a session", "DELETE FROM session WHERE token = ?")
	dropEnded      = stated(writing, "drop ended sessions", "DELETE FROM session WHERE expires_ms <= ?")
)
