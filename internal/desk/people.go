package desk

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// NewAccount is what an administrator types to open an account.
type NewAccount struct {
	ID         line.ID // of the account; made by whoever asks
	SignIn     string
	Name       string
	Initials   string
	Role       account.Role
	Passphrase string
}

var signInForm = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]{1,31}$`)

func (n *NewAccount) check() error {
	n.SignIn = strings.ToLower(strings.TrimSpace(n.SignIn))
	n.Name, n.Initials = strings.TrimSpace(n.Name), strings.TrimSpace(n.Initials)
	switch {
	case !signInForm.MatchString(n.SignIn):
		return fault.Field("sign_in", "desk.sign-in-form")
	case n.Name == "":
		return fault.Field("name", "desk.name-missing")
	case !n.Role.Valid():
		return fault.Field("role", "desk.role-missing")
	}
	return nil
}

func (n NewAccount) entry() line.Entry {
	return line.Entry{Kind: line.KindAccount, Body: line.Account{
		Account: n.ID, SignIn: n.SignIn, Name: line.Text(n.Name), Initials: line.Text(n.Initials), Role: string(n.Role),
	}}
}

// OpenAccount makes an account.
func (d *Desk) OpenAccount(ctx context.Context, who Person, n NewAccount) (Person, error) {
	if err := who.require(account.ManagePeople); err != nil {
		return Person{}, err
	}
	return d.openAccount(ctx, who, n)
}

func (d *Desk) openAccount(ctx context.Context, who Person, n NewAccount, also ...line.Entry) (Person, error) {
	if err := n.check(); err != nil {
		return Person{}, err
	}
	if err := account.CheckPassphrase(n.Passphrase, n.SignIn, n.Name); err != nil {
		return Person{}, err
	}
	if _, err := d.store.AccountBySignIn(ctx, n.SignIn); err == nil {
		return Person{}, fault.Field("sign_in", "desk.sign-in-taken", "name", n.SignIn)
	} else if !fault.Is(err, fault.NotFound) {
		return Person{}, err
	}
	// Opening must not change an account that is there already.
	if _, err := d.store.Account(ctx, n.ID); err == nil {
		return Person{}, fault.New(fault.Conflict, "desk.account-open-already")
	} else if !fault.Is(err, fault.NotFound) {
		return Person{}, err
	}
	hash, err := account.Hash(n.Passphrase)
	if err != nil {
		return Person{}, fmt.Errorf("hash passphrase: %w", err)
	}
	if err := d.recordHouse(ctx, who, append(also, n.entry())...); err != nil {
		return Person{}, err
	}
	if err := d.store.SetSecret(ctx, n.ID, hash); err != nil {
		return Person{}, fmt.Errorf("set secret: %w", err)
	}
	a, err := d.store.Account(ctx, n.ID)
	return Person{Account: a}, err
}

// ChangeAccount changes a person's name, role or whether the account is open.
func (d *Desk) ChangeAccount(ctx context.Context, who Person, a account.Account) error {
	if err := who.require(account.ManagePeople); err != nil {
		return err
	}
	if a.ID == who.ID && (a.Closed || a.Role != who.Role) {
		return fault.New(fault.Invalid, "desk.not-yourself")
	}
	if !a.Role.Valid() {
		return fault.Field("role", "desk.role-missing")
	}
	return d.recordAccount(ctx, who, a)
}

func (d *Desk) recordAccount(ctx context.Context, who Person, a account.Account) error {
	body := line.Account{
		Account: line.ID(a.ID), SignIn: a.SignIn, Name: line.Text(a.Name), Initials: line.Text(a.Initials),
		Role: string(a.Role), Closed: a.Closed, Language: a.Language,
	}
	return d.recordHouse(ctx, who, line.Entry{Kind: line.KindAccount, Body: body})
}

// SetLanguage is a person's own choice of language; empty: none.
func (d *Desk) SetLanguage(ctx context.Context, who Person, tag string) error {
	h, err := d.House(ctx)
	if err != nil {
		return err
	}
	a, ok := h.People[line.ID(who.ID)]
	if !ok {
		return fault.New(fault.Unauthenticated, "fault.sign-in-first")
	}
	a.Language = tag
	return d.recordAccount(ctx, who, a)
}

// SetPassphrase gives a person a new passphrase; a person may change their own.
func (d *Desk) SetPassphrase(ctx context.Context, who Person, id line.ID, passphrase string) error {
	if line.ID(who.ID) != id {
		if err := who.require(account.ManagePeople); err != nil {
			return err
		}
	}
	a, err := d.store.Account(ctx, id)
	if err != nil {
		return err
	}
	if err := account.CheckPassphrase(passphrase, a.SignIn, a.Name); err != nil {
		return err
	}
	hash, err := account.Hash(passphrase)
	if err != nil {
		return fmt.Errorf("hash passphrase: %w", err)
	}
	return d.store.SetSecret(ctx, id, hash)
}

// SetWard makes or changes a ward.
func (d *Desk) SetWard(ctx context.Context, who Person, w line.Ward) error {
	if err := who.require(account.ManagePeople); err != nil {
		return err
	}
	if err := checkWard(w); err != nil {
		return err
	}
	return d.recordHouse(ctx, who, line.Entry{Kind: line.KindWard, Body: w})
}

func checkWard(w line.Ward) error {
	if strings.TrimSpace(w.Name) == "" {
		return fault.Field("name", "desk.ward-name-missing")
	}
	if _, err := time.LoadLocation(w.Zone); err != nil || w.Zone == "" {
		return fault.Field("zone", "desk.zone-unknown", "zone", w.Zone)
	}
	for i, s := range w.Shifts {
		if s < 0 || s >= 24*60 || i > 0 && s <= w.Shifts[i-1] {
			return fault.Field("shifts", "desk.shifts-form")
		}
	}
	if w.Every < 0 || w.Every > 0 && w.Every < 30 || w.Every > 24*60 {
		return fault.Field("every", "desk.every-form")
	}
	seen := map[string]bool{}
	for _, bed := range w.Beds {
		if seen[bed] {
			return fault.Field("beds", "desk.bed-twice", "bed", bed)
		}
		seen[bed] = true
	}
	return nil
}

// SetHospital says what holds of the whole house.
func (d *Desk) SetHospital(ctx context.Context, who Person, hospital line.Hospital) error {
	if err := who.require(account.ManagePeople); err != nil {
		return err
	}
	if err := checkHospital(hospital); err != nil {
		return err
	}
	return d.recordHouse(ctx, who, line.Entry{Kind: line.KindHospital, Body: hospital})
}

func checkHospital(h line.Hospital) error {
	if strings.TrimSpace(h.Name) == "" {
		return fault.Field("hospital", "desk.hospital-name-missing")
	}
	if _, err := time.LoadLocation(h.Zone); err != nil || h.Zone == "" {
		return fault.Field("zone", "desk.zone-unknown", "zone", h.Zone)
	}
	pattern, err := regexp.Compile(`^(?:` + h.Reference + `)$`)
	if err != nil {
		return fault.Field("reference_pattern", "desk.pattern-form")
	}
	if h.Reference != "" && !pattern.MatchString(h.Example) {
		return fault.Field("reference_example", "desk.example-does-not-fit")
	}
	return nil
}

// OfferLink offers a name as written on the record to a person, who accepts or declines it.
func (d *Desk) OfferLink(ctx context.Context, who Person, written string, id line.ID) error {
	if err := who.require(account.ManagePeople); err != nil {
		return err
	}
	if strings.TrimSpace(written) == "" {
		return fault.Field("written", "desk.written-missing")
	}
	if _, err := d.store.Account(ctx, id); err != nil {
		return fault.Field("account", "desk.account-missing")
	}
	body := line.OperatorLink{Written: line.Text(strings.TrimSpace(written)), Account: id}
	return d.recordHouse(ctx, who, line.Entry{Kind: line.KindOperatorLink, Body: body})
}

// AnswerLink is the person's answer to a name offered to them.
func (d *Desk) AnswerLink(ctx context.Context, who Person, written string, answer line.Answer) error {
	if err := who.require(account.SeeOwnRecord); err != nil {
		return err
	}
	h, err := d.House(ctx)
	if err != nil {
		return err
	}
	for _, l := range h.Links {
		if l.Written == written && l.Account == line.ID(who.ID) && answer != 0 {
			body := line.OperatorLink{Written: line.Text(written), Account: line.ID(who.ID), Accepted: answer}
			return d.recordHouse(ctx, who, line.Entry{Kind: line.KindOperatorLink, Body: body})
		}
	}
	return fault.New(fault.NotFound, "desk.no-such-offer")
}

// recordHouse stores entries of the house, in force from now where they name no moment.
func (d *Desk) recordHouse(ctx context.Context, who Person, entries ...line.Entry) error {
	for i := range entries {
		e := &entries[i]
		e.ID, e.Version, e.Author = NewID(), line.FormatVersion, line.ID(who.ID)
		if e.Precision = line.ToMinute; e.Happened == 0 {
			e.Happened = d.Now()
		}
	}
	if _, err := d.store.Append(ctx, line.Batch{Entries: entries}); err != nil {
		return fmt.Errorf("record the house: %w", err)
	}
	return nil
}
