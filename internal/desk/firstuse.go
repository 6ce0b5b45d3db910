package desk

import (
	"context"
	"crypto/rand"
	"fmt"
	"slices"
	"strings"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// invitationStands is how long a one-time link is good for; a house rule.
const invitationStands = 14 * 24 * time.Hour

// Empty reports whether the hospital has no ward yet, or nobody who could
// record care on one.
func (h *House) Empty() bool {
	if !slices.ContainsFunc(h.Wards, func(w Ward) bool { return !w.Closed }) {
		return true
	}
	for _, p := range h.People {
		if p.May(account.RecordCare) {
			return false
		}
	}
	return true
}

// CheckNewWards says of each ward of a list what is wrong with it, nil where nothing is.
func (d *Desk) CheckNewWards(ctx context.Context, wards []line.Ward) ([]error, error) {
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	taken := map[string]bool{}
	for _, w := range h.Wards {
		taken[strings.ToLower(w.Name)] = !w.Closed
	}
	wrong := make([]error, len(wards))
	for i, w := range wards {
		name := strings.ToLower(w.Name)
		if wrong[i] = checkWard(w); wrong[i] == nil && taken[name] {
			wrong[i] = fault.Field("name", "desk.ward-name-taken", "name", w.Name)
		}
		taken[name] = true
	}
	return wrong, nil
}

// AddWards makes the wards of a list: all, or none where one is wrong.
func (d *Desk) AddWards(ctx context.Context, who Person, wards []line.Ward) error {
	if err := who.require(account.ManagePeople); err != nil {
		return err
	}
	wrong, err := d.CheckNewWards(ctx, wards)
	if err != nil {
		return err
	}
	entries := make([]line.Entry, len(wards))
	for i, w := range wards {
		if wrong[i] != nil {
			return wrong[i]
		}
		entries[i] = line.Entry{Kind: line.KindWard, Body: w}
	}
	return d.recordHouse(ctx, who, entries...)
}

// CheckNewPeople says of each person of a list what is wrong with it, nil
// where nothing is. The people have no passphrase yet.
func (d *Desk) CheckNewPeople(ctx context.Context, people []NewAccount) ([]error, error) {
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	taken := map[string]bool{}
	for _, p := range h.People {
		taken[p.SignIn] = true
	}
	wrong := make([]error, len(people))
	for i, n := range people {
		if wrong[i] = n.check(); wrong[i] == nil && taken[n.SignIn] {
			wrong[i] = fault.Field("sign_in", "desk.sign-in-taken", "name", n.SignIn)
		}
		taken[n.SignIn] = true
	}
	return wrong, nil
}

// InvitePeople opens the accounts of a list, each with a one-time link in
// place of a passphrase: all, or none where one is wrong.
func (d *Desk) InvitePeople(ctx context.Context, who Person, people []NewAccount) ([]account.Invitation, error) {
	if err := who.require(account.ManagePeople); err != nil {
		return nil, err
	}
	wrong, err := d.CheckNewPeople(ctx, people)
	if err != nil {
		return nil, err
	}
	ids := make([]line.ID, len(people))
	entries := make([]line.Entry, len(people))
	for i := range people {
		if wrong[i] != nil {
			return nil, wrong[i]
		}
		n := people[i]
		n.ID = NewID()
		if err := n.check(); err != nil { // which also brings the spelling in order
			return nil, err
		}
		ids[i], entries[i] = n.ID, n.entry()
	}
	if err := d.recordHouse(ctx, who, entries...); err != nil {
		return nil, err
	}
	return d.invite(ctx, ids)
}

// Invite gives one person a fresh one-time link; an earlier one ceases to
// count. The passphrase they have, if any, counts until they use the link.
func (d *Desk) Invite(ctx context.Context, who Person, id line.ID) (account.Invitation, error) {
	if err := who.require(account.ManagePeople); err != nil {
		return account.Invitation{}, err
	}
	if _, err := d.Person(ctx, id); err != nil {
		return account.Invitation{}, fault.Field("account", "desk.account-missing")
	}
	list, err := d.invite(ctx, []line.ID{id})
	if err != nil {
		return account.Invitation{}, err
	}
	return list[0], nil
}

func (d *Desk) invite(ctx context.Context, ids []line.ID) ([]account.Invitation, error) {
	list := make([]account.Invitation, len(ids))
	for i, id := range ids {
		list[i] = account.Invitation{Account: account.ID(id), Token: rand.Text(), Until: d.clock().Add(invitationStands)}
	}
	if err := d.store.KeepInvitations(ctx, list); err != nil {
		return nil, fmt.Errorf("keep invitations: %w", err)
	}
	return list, nil
}

// Invited is who a one-time link belongs to. NotFound: it was used, or its
// time has passed, or there never was one.
func (d *Desk) Invited(ctx context.Context, id line.ID, token string) (Person, error) {
	until, ok, err := d.store.InvitedUntil(ctx, id, token)
	if err != nil {
		return Person{}, err
	}
	p, err := d.Person(ctx, id)
	if err != nil && !fault.Is(err, fault.Unauthenticated) {
		return Person{}, err
	}
	if !ok || err != nil || !d.clock().Before(until) {
		return Person{}, fault.New(fault.NotFound, "desk.invitation-over")
	}
	return p, nil
}

// AcceptInvitation gives the person the passphrase they chose; the link is used up.
func (d *Desk) AcceptInvitation(ctx context.Context, id line.ID, token, passphrase string) (Person, error) {
	p, err := d.Invited(ctx, id, token)
	if err != nil {
		return Person{}, err
	}
	return p, d.SetPassphrase(ctx, p, id, passphrase)
}

// Greet reports whether this is the person's first sign-in in their role; from
// then on it is not.
func (d *Desk) Greet(ctx context.Context, who Person) (first bool, err error) {
	greeted, err := d.store.Greeted(ctx, line.ID(who.ID), who.Role)
	if err != nil || greeted {
		return false, err
	}
	return true, d.store.NoteGreeted(ctx, line.ID(who.ID), who.Role)
}
