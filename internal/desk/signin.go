package desk

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// failuresCountFor is how long a failed sign-in slows the next.
const failuresCountFor = time.Hour

// SignIn gives the person whose sign-in name and passphrase these are. It
// answers alike, and takes as long, whether or not the name exists.
func (d *Desk) SignIn(ctx context.Context, name, passphrase string) (Person, error) {
	name = strings.ToLower(strings.TrimSpace(name))
	now := d.clock()
	n, last, err := d.store.SignInFailures(ctx, name, now.Add(-failuresCountFor))
	if err != nil {
		return Person{}, fmt.Errorf("sign-in failures of %q: %w", name, err)
	}
	if wait := account.Wait(n, last, now); wait > 0 {
		return Person{}, fault.New(fault.Busy, "desk.sign-in-wait", "seconds", int(wait/time.Second)+1)
	}
	a, err := d.store.AccountBySignIn(ctx, name)
	if err != nil && !fault.Is(err, fault.NotFound) {
		return Person{}, err
	}
	hash := nobodysHash
	if err == nil {
		if hash, err = d.store.Secret(ctx, line.ID(a.ID)); err != nil && !fault.Is(err, fault.NotFound) {
			return Person{}, err
		}
	}
	if hash == "" {
		hash = nobodysHash
	}
	ok, err := account.Match(passphrase, hash)
	if err != nil {
		return Person{}, fmt.Errorf("match passphrase of %q: %w", name, err)
	}
	if !ok || a.ID == "" || a.Closed {
		if err := d.store.NoteSignInFailure(ctx, name, now); err != nil {
			return Person{}, err
		}
		return Person{}, fault.New(fault.Invalid, "desk.sign-in-wrong")
	}
	return Person{Account: a}, d.store.ClearSignInFailures(ctx, name)
}

// nobodysHash is matched where there is no such account, so that the answer takes as long.
const nobodysHash = "$argon2id$v=19$m=19456,t=2,p=1$YWFhYWFhYWFhYWFhYWFhYQ$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"

// Person is who an account id belongs to now; a closed or unknown account is nobody.
func (d *Desk) Person(ctx context.Context, id line.ID) (Person, error) {
	h, err := d.House(ctx)
	if err != nil {
		return Person{}, err
	}
	a, ok := h.People[id]
	if !ok || a.Closed {
		return Person{}, fault.New(fault.Unauthenticated, "fault.sign-in-first")
	}
	return Person{Account: a}, nil
}

// Generation is what a session of the person stands on: a new passphrase, or
// EndSessions, ends it.
func (d *Desk) Generation(ctx context.Context, who Person) (int64, error) {
	return d.store.Generation(ctx, line.ID(who.ID))
}

// Still is the person of a session that stands on a generation of their secret.
func (d *Desk) Still(ctx context.Context, id line.ID, generation int64) (Person, error) {
	p, err := d.Person(ctx, id)
	if err != nil {
		return Person{}, err
	}
	now, err := d.store.Generation(ctx, id)
	if err != nil {
		return Person{}, err
	}
	if now != generation {
		return Person{}, fault.New(fault.Unauthenticated, "fault.sign-in-first")
	}
	return p, nil
}

// EndSessions signs a person out everywhere; people may do it to themselves.
func (d *Desk) EndSessions(ctx context.Context, who Person, id line.ID) error {
	if line.ID(who.ID) != id {
		if err := who.require(account.ManagePeople); err != nil {
			return err
		}
	}
	return d.store.NextGeneration(ctx, id)
}

const setUpSetting = "set-up-token"

// SetUpToken makes the one-time token with which the first administrator is
// created, or gives "" where there is an account already. An earlier token
// ceases to count.
func (d *Desk) SetUpToken(ctx context.Context) (string, error) {
	h, err := d.House(ctx)
	if err != nil || len(h.People) > 0 {
		return "", err
	}
	token := rand.Text()
	return token, d.store.SetSetting(ctx, setUpSetting, digest(token))
}

func digest(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:])
}

// CheckSetUp refuses a token that does not count, or no longer.
func (d *Desk) CheckSetUp(ctx context.Context, token string) error {
	want, ok, err := d.store.Setting(ctx, setUpSetting)
	if err != nil {
		return err
	}
	if !ok || subtle.ConstantTimeCompare([]byte(want), []byte(digest(token))) != 1 {
		return fault.New(fault.NotFound, "desk.set-up-over")
	}
	return nil
}

// SetUp creates the first administrator and says what the hospital is.
func (d *Desk) SetUp(ctx context.Context, token string, hospital line.Hospital, admin NewAccount) (Person, error) {
	if err := d.CheckSetUp(ctx, token); err != nil {
		return Person{}, err
	}
	if err := checkHospital(hospital); err != nil {
		return Person{}, err
	}
	admin.Role = account.Administrator
	p, err := d.openAccount(ctx, System(), admin, line.Entry{Kind: line.KindHospital, Body: hospital})
	if err != nil {
		return Person{}, err
	}
	return p, d.store.DeleteSetting(ctx, setUpSetting)
}
