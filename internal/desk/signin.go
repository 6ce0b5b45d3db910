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

// pinFailuresCountFor is how long wrong PINs count; a sign-in by passphrase
// ends it sooner.
const pinFailuresCountFor = 24 * time.Hour

// Place is where a request comes from.
type Place struct {
	Device  string // the browser's own token; "": it has none yet
	Address string // of the network
}

// mostHashing bounds how many passphrases are hashed at once: each takes 19 MiB.
const mostHashing = 4

// SignIn gives the person whose sign-in name and passphrase these are. It
// answers alike, and takes as long, whether or not the name exists.
func (d *Desk) SignIn(ctx context.Context, at Place, name, passphrase string) (Person, error) {
	name = strings.ToLower(strings.TrimSpace(name))
	a, err := d.store.AccountBySignIn(ctx, name)
	if err != nil && !fault.Is(err, fault.NotFound) {
		return Person{}, err
	}
	where, err := d.mayTry(ctx, at, name, line.ID(a.ID))
	if err != nil {
		return Person{}, err
	}
	ok, err := d.match(ctx, line.ID(a.ID), passphrase)
	if err != nil {
		return Person{}, err
	}
	if !ok || a.ID == "" || a.Closed {
		if err := d.store.NoteSignInFailure(ctx, name, where, d.clock()); err != nil {
			return Person{}, err
		}
		return Person{}, fault.New(fault.Invalid, "desk.sign-in-wrong")
	}
	if err := d.store.ClearSignInFailures(ctx, pinName(line.ID(a.ID)), where); err != nil {
		return Person{}, err
	}
	return Person{Account: a}, d.store.ClearSignInFailures(ctx, name, where)
}

// mayTry refuses a sign-in that must wait. It gives the place under which a
// failure counts: the device where it knows the person, else the address.
func (d *Desk) mayTry(ctx context.Context, at Place, name string, id line.ID) (where string, err error) {
	now := d.clock()
	since := now.Add(-failuresCountFor)
	var t account.Tries
	where = at.Address
	if at.Device != "" && id != "" {
		if t.Known, err = d.store.KnownDevice(ctx, digest(at.Device), id); err != nil {
			return "", err
		}
	}
	if t.Known {
		where = digest(at.Device)
	}
	for _, count := range []struct {
		of          *account.Failures
		name, place string
	}{{&t.Here, name, where}, {&t.Name, name, ""}, {&t.Address, "", at.Address}} {
		if *count.of, err = d.store.SignInFailures(ctx, count.name, count.place, since); err != nil {
			return "", err
		}
	}
	if wait := t.Wait(now); wait > 0 {
		return "", fault.New(fault.Busy, "desk.sign-in-wait", "seconds", int(wait/time.Second)+1)
	}
	return where, nil
}

// KnowDevice notes that the person has signed in on a device.
func (d *Desk) KnowDevice(ctx context.Context, who Person, device string) error {
	return d.store.KnowDevice(ctx, digest(device), line.ID(who.ID))
}

// match reports whether the passphrase is the account's; of nobody's it is not.
func (d *Desk) match(ctx context.Context, id line.ID, passphrase string) (bool, error) {
	hash := nobodysHash
	if id != "" {
		kept, err := d.store.Secret(ctx, id)
		if err != nil && !fault.Is(err, fault.NotFound) {
			return false, err
		}
		if kept != "" {
			hash = kept
		}
	}
	return d.fits(ctx, passphrase, hash)
}

// fits reports whether a secret fits its hash, of a few at once.
func (d *Desk) fits(ctx context.Context, secret, hash string) (bool, error) {
	select {
	case d.hashing <- struct{}{}:
		defer func() { <-d.hashing }()
	case <-ctx.Done():
		return false, ctx.Err()
	}
	ok, err := account.Match(secret, hash)
	if err != nil {
		return false, fmt.Errorf("match a secret: %w", err)
	}
	return ok, nil
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
