package desk

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// Tablets lists the wards' tablets.
func (d *Desk) Tablets(ctx context.Context, who Person) ([]account.Tablet, error) {
	if err := who.require(account.ManagePeople); err != nil {
		return nil, err
	}
	return d.store.Tablets(ctx)
}

// EnrolTablet makes the device that the administrator holds a ward's tablet.
func (d *Desk) EnrolTablet(ctx context.Context, who Person, device, name string) error {
	if err := who.require(account.ManagePeople); err != nil {
		return err
	}
	if name = strings.TrimSpace(name); name == "" {
		return fault.Field("name", "tablet.name-missing")
	}
	return d.store.SetTablet(ctx, account.Tablet{Device: digest(device), Name: name, Author: who.ID, At: d.clock()})
}

// DropTablet takes a tablet off the wards: no PIN counts on it any more.
func (d *Desk) DropTablet(ctx context.Context, who Person, device string) error {
	if err := who.require(account.ManagePeople); err != nil {
		return err
	}
	return d.store.DropTablet(ctx, device)
}

// TabletHere is the tablet that a request comes from, with those who may sign
// in on it by PIN, by name; ok is false where it comes from none.
func (d *Desk) TabletHere(ctx context.Context, at Place) (t account.Tablet, people []account.Account, ok bool, err error) {
	if at.Device == "" {
		return t, nil, false, nil
	}
	t, ok, err = d.store.Tablet(ctx, digest(at.Device))
	if err != nil || !ok {
		return t, nil, false, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return t, nil, false, err
	}
	holders, err := d.store.PINHolders(ctx, t.Device)
	if err != nil {
		return t, nil, false, err
	}
	for _, id := range holders {
		if a := h.People[id]; !a.Closed && a.Role.MayUsePIN() {
			people = append(people, a)
		}
	}
	slices.SortFunc(people, func(a, b account.Account) int { return cmp.Compare(a.Name+a.ID, b.Name+b.ID) })
	return t, people, true, nil
}

// SetPIN gives the person a PIN for the wards' tablets, in place of any before.
func (d *Desk) SetPIN(ctx context.Context, who Person, pin string) error {
	if !who.Role.MayUsePIN() {
		return fault.New(fault.Forbidden, "tablet.no-pin-for-role")
	}
	if err := account.CheckPIN(pin); err != nil {
		return err
	}
	hash, err := account.Hash(pin)
	if err != nil {
		return fmt.Errorf("hash PIN: %w", err)
	}
	return d.store.SetPIN(ctx, line.ID(who.ID), hash)
}

// SignInByPIN gives the person of a PIN, on a tablet on which the person has
// signed in by passphrase before. After a few wrong ones the tablet asks for
// the passphrase again.
func (d *Desk) SignInByPIN(ctx context.Context, at Place, id line.ID, pin string) (Person, error) {
	tablet, people, ok, err := d.TabletHere(ctx, at)
	if err != nil {
		return Person{}, err
	}
	i := slices.IndexFunc(people, func(a account.Account) bool { return line.ID(a.ID) == id })
	if !ok || i < 0 {
		return Person{}, fault.Field("person", "tablet.passphrase-first")
	}
	failed, err := d.store.SignInFailures(ctx, pinName(id), tablet.Device, d.clock().Add(-pinFailuresCountFor))
	if err != nil {
		return Person{}, err
	}
	if failed.N >= account.PINTries {
		return Person{}, fault.Field("pin", "tablet.pin-blocked")
	}
	hash, _, err := d.store.PIN(ctx, id)
	if err != nil {
		return Person{}, err
	}
	match, err := d.fits(ctx, pin, hash)
	if err != nil {
		return Person{}, err
	}
	if !match {
		if err := d.store.NoteSignInFailure(ctx, pinName(id), tablet.Device, d.clock()); err != nil {
			return Person{}, err
		}
		return Person{}, fault.Field("pin", "tablet.pin-wrong")
	}
	return Person{Account: people[i]}, d.store.ClearSignInFailures(ctx, pinName(id), tablet.Device)
}

// pinName is under what wrong PINs are counted: no sign-in name has a blank.
func pinName(id line.ID) string { return "pin of " + string(id) }
