package desk

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"github.com/aymanbagabas/go-udiff"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// SetPolicy puts the policy file that the server is started with in force from
// now, if that file has changed since it was last put in force so; what a
// person put in force since then stays. changed says whether it did.
func (d *Desk) SetPolicy(ctx context.Context, who Person, toml []byte) (changed bool, err error) {
	if err := who.require(account.ManagePeople); err != nil {
		return false, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return false, err
	}
	var last PolicyVersion
	for _, v := range h.Policies {
		if v.Author == line.ID(who.ID) && v.Seq > last.Seq {
			last = v
		}
	}
	if last.Policy != nil && string(last.Policy.Text()) == string(toml) {
		return false, nil
	}
	return true, d.recordHouse(ctx, who, line.Entry{Kind: line.KindPolicy, Body: line.Policy{TOML: string(toml)}})
}

// NewPolicy is a policy to be put in force.
type NewPolicy struct {
	Policy  *audit.Policy
	From    line.Minute // 0: now
	Against string      // the name of the policy in force when the person looked; another by now is a Conflict
}

// furthestPolicy bounds how far ahead a policy can be put in force, so that a
// slip in the year is noticed.
const furthestPolicy = 366 * 24 * 60

// CheckPolicyFrom refuses a moment from which no policy can be put in force.
func (d *Desk) CheckPolicyFrom(from line.Minute) error {
	switch now := d.Now(); {
	case from < now:
		return fault.Field("from", "policy.past")
	case from > now+furthestPolicy:
		return fault.Field("from", "policy.too-far")
	}
	return nil
}

// PutPolicy puts a policy in force from a moment that is not past, by name of
// the person.
func (d *Desk) PutPolicy(ctx context.Context, who Person, p NewPolicy) error {
	if err := who.require(account.EditPolicy); err != nil {
		return err
	}
	h, err := d.House(ctx)
	if err != nil {
		return err
	}
	if p.From != 0 {
		if err := d.CheckPolicyFrom(p.From); err != nil {
			return err
		}
	}
	switch {
	case h.Rulebook.PolicyAt(d.Now()).Name() != p.Against:
		return fault.New(fault.Conflict, "policy.changed-meanwhile")
	case p.From == 0 && p.Policy.Name() == p.Against:
		return fault.New(fault.Invalid, "policy.no-change")
	}
	return d.recordHouse(ctx, who, line.Entry{Kind: line.KindPolicy, Happened: p.From, Body: line.Policy{TOML: string(p.Policy.Text())}})
}

// policyEditPath is where the edit in hand is kept among the person's drafts,
// and where it is opened again.
const policyEditPath = "/policy/edit"

func policyEditID(who Person) string { return "policy-edit-" + who.ID }

// PolicyEdit is the policy that a person is editing.
type PolicyEdit struct {
	Policy  *audit.Policy
	Against string // the name of the policy that the person saw it tried against; "" before a trial
}

// KeepPolicyEdit keeps the policy that the person is editing, in place of the one before.
func (d *Desk) KeepPolicyEdit(ctx context.Context, who Person, e PolicyEdit) error {
	if err := who.require(account.EditPolicy); err != nil {
		return err
	}
	form := url.Values{"text": {string(e.Policy.Text())}, "against": {e.Against}}
	return d.store.KeepDraft(ctx, account.Draft{ID: policyEditID(who), Account: who.ID, Path: policyEditPath, Form: form, At: d.clock()})
}

// PolicyEdit is the edit that the person has in hand; nil where there is none.
func (d *Desk) PolicyEdit(ctx context.Context, who Person) (*PolicyEdit, error) {
	if err := who.require(account.EditPolicy); err != nil {
		return nil, err
	}
	drafts, err := d.store.Drafts(ctx, line.ID(who.ID))
	if err != nil {
		return nil, fmt.Errorf("policy in hand: %w", err)
	}
	for _, one := range drafts {
		if one.ID == policyEditID(who) {
			p, err := audit.ParsePolicy("policy in hand", []byte(one.Form.Get("text")))
			if err != nil {
				return nil, nil // kept by a version of the program with other keys
			}
			return &PolicyEdit{p, one.Form.Get("against")}, nil
		}
	}
	return nil, nil
}

// DropPolicyEdit forgets the policy that the person is editing.
func (d *Desk) DropPolicyEdit(ctx context.Context, who Person) error {
	return d.store.DropDraft(ctx, line.ID(who.ID), policyEditID(who))
}

// Versions are the policies of all time, the one in force from the latest
// moment first; the last is the policy that the program carries.
func (h *House) Versions() []PolicyVersion {
	all := append([]PolicyVersion{{From: -line.Far, Author: SystemID, Policy: audit.DefaultPolicy()}}, h.Policies...)
	slices.Reverse(all)
	return all
}

// Version finds a policy by its number in the record; 0 is the policy that the
// program carries.
func (h *House) Version(seq int64) (PolicyVersion, bool) {
	all := h.Versions()
	i := slices.IndexFunc(all, func(v PolicyVersion) bool { return v.Seq == seq })
	if i < 0 {
		return PolicyVersion{}, false
	}
	return all[i], true
}

// InForce is the version in force at the moment.
func (h *House) InForce(at line.Minute) PolicyVersion {
	all := h.Versions()
	i := slices.IndexFunc(all, func(v PolicyVersion) bool { return v.From <= at })
	return all[i]
}

// Until is when the version ceases to be in force: the moment of the one after
// it, Far where there is none.
func (h *House) Until(v PolicyVersion) line.Minute {
	until := line.Far
	for _, later := range h.Policies {
		if later.From > v.From || later.From == v.From && later.Seq > v.Seq {
			until = min(until, later.From)
		}
	}
	return until
}

// DiffLine is one line of a comparison.
type DiffLine struct {
	Sign          byte // '-' only before, '+' only after, ' ' both, '@' lines left out here
	Before, After int  // its number in each file, from 1; 0 where it does not stand
	Text          string
}

// around is how many lines that are the same stand about a difference.
const around = 2

// Differences compares two files line by line; none where they are the same.
func Differences(before, after string) []DiffLine {
	before, after = strings.ReplaceAll(before, "\r\n", "\n"), strings.ReplaceAll(after, "\r\n", "\n")
	diff, err := udiff.ToUnifiedDiff("", "", before, udiff.Lines(before, after), around)
	if err != nil {
		return nil // only edits that do not fit their own text could fail
	}
	var list []DiffLine
	for i, hunk := range diff.Hunks {
		if i > 0 {
			list = append(list, DiffLine{Sign: '@'})
		}
		was, is := hunk.FromLine, hunk.ToLine
		for _, l := range hunk.Lines {
			one := DiffLine{Sign: ' ', Before: was, After: is, Text: strings.TrimSuffix(l.Content, "\n")}
			switch l.Kind {
			case udiff.Delete:
				one.Sign, one.After = '-', 0
				was++
			case udiff.Insert:
				one.Sign, one.Before = '+', 0
				is++
			default:
				was++
				is++
			}
			list = append(list, one)
		}
	}
	return list
}
