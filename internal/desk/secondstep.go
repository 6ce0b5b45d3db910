package desk

import (
	"context"
	"slices"
	"strings"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

const stepRuleSetting = "second-step"

// StepRule is of whom the hospital wants a second step.
func (d *Desk) StepRule(ctx context.Context) (account.StepRule, error) {
	text, _, err := d.store.Setting(ctx, stepRuleSetting)
	if rule := account.StepRule(text); slices.Contains(account.StepRules, rule) {
		return rule, err
	}
	return account.StepRules[0], err
}

// SetStepRule says of whom it is wanted.
func (d *Desk) SetStepRule(ctx context.Context, who Person, rule account.StepRule) error {
	if err := who.require(account.ManagePeople); err != nil {
		return err
	}
	if !slices.Contains(account.StepRules, rule) {
		return fault.Field("rule", "secondstep.rule-missing")
	}
	return d.store.SetSetting(ctx, stepRuleSetting, string(rule))
}

// SecondStep reports whether the person has a second step, and how many
// recovery codes are left.
func (d *Desk) SecondStep(ctx context.Context, who Person) (on bool, left int, err error) {
	step, ok, err := d.store.SecondStep(ctx, line.ID(who.ID))
	if err != nil || !ok || !step.Confirmed {
		return false, 0, err
	}
	left, err = d.store.RecoveryCodes(ctx, line.ID(who.ID))
	return true, left, err
}

// BeginSecondStep gives the key that the person's device is to be given. It
// stays the same until a code of it is shown.
func (d *Desk) BeginSecondStep(ctx context.Context, who Person) (account.CodeKey, error) {
	step, ok, err := d.store.SecondStep(ctx, line.ID(who.ID))
	switch {
	case err != nil:
		return nil, err
	case ok && step.Confirmed:
		return nil, fault.New(fault.Conflict, "secondstep.on-already")
	case ok:
		return step.Key, nil
	}
	step.Key = account.NewCodeKey()
	return step.Key, d.store.SetSecondStep(ctx, line.ID(who.ID), step)
}

// ConfirmSecondStep turns the second step on with a first code, ends the
// person's other sessions, and gives the recovery codes, which are never shown
// again.
func (d *Desk) ConfirmSecondStep(ctx context.Context, at Place, who Person, code string) ([]string, error) {
	id := line.ID(who.ID)
	step, ok, err := d.store.SecondStep(ctx, id)
	if err != nil {
		return nil, err
	}
	if !ok || step.Confirmed {
		return nil, fault.New(fault.Conflict, "secondstep.on-already")
	}
	if err := d.takeCode(ctx, at, who.Account, step, code); err != nil {
		return nil, err
	}
	codes := account.NewRecoveryCodes()
	hashes := make([]string, len(codes))
	for i, c := range codes {
		hashes[i] = digest(c)
	}
	if err := d.store.SetRecoveryCodes(ctx, id, hashes); err != nil {
		return nil, err
	}
	if step, _, err = d.store.SecondStep(ctx, id); err != nil {
		return nil, err
	}
	step.Confirmed = true
	if err := d.store.SetSecondStep(ctx, id, step); err != nil {
		return nil, err
	}
	return codes, d.store.NextGeneration(ctx, id)
}

// CheckCode lets a person pass the second step, with a code of their device or
// a recovery code.
func (d *Desk) CheckCode(ctx context.Context, at Place, id line.ID, code string) (Person, error) {
	p, err := d.Person(ctx, id)
	if err != nil {
		return Person{}, err
	}
	step, ok, err := d.store.SecondStep(ctx, id)
	if err != nil {
		return Person{}, err
	}
	if !ok || !step.Confirmed {
		return Person{}, fault.New(fault.Unauthenticated, "fault.sign-in-first")
	}
	return p, d.takeCode(ctx, at, p.Account, step, code)
}

// takeCode uses a code up. Wrong ones slow the next, apart from passphrases.
func (d *Desk) takeCode(ctx context.Context, at Place, a account.Account, step account.SecondStep, code string) error {
	code = strings.ToUpper(strings.TrimSpace(code))
	name := "code of " + a.ID // no sign-in name has a blank
	where, err := d.mayTry(ctx, at, name, line.ID(a.ID))
	if err != nil {
		return err
	}
	used := false
	if n, ok := step.Key.Match(strings.ReplaceAll(code, " ", ""), d.clock(), step.Used); ok {
		used, err = d.store.UseStep(ctx, line.ID(a.ID), n)
	} else if step.Confirmed {
		used, err = d.store.UseRecoveryCode(ctx, line.ID(a.ID), digest(code))
	}
	if err != nil {
		return err
	}
	if !used {
		if err := d.store.NoteSignInFailure(ctx, name, where, d.clock()); err != nil {
			return err
		}
		return fault.Field("code", "secondstep.wrong")
	}
	return d.store.ClearSignInFailures(ctx, name, where)
}

// RenewSecondStep takes the person's own second step off, with a code of it,
// so that another device can be given a key.
func (d *Desk) RenewSecondStep(ctx context.Context, at Place, who Person, code string) error {
	if on, _, err := d.SecondStep(ctx, who); err != nil || !on {
		return err // there is nothing to take off
	}
	if _, err := d.CheckCode(ctx, at, line.ID(who.ID), code); err != nil {
		return err
	}
	return d.store.DropSecondStep(ctx, line.ID(who.ID))
}

// ResetSecondStep takes another person's second step off, who has lost device
// and recovery codes, and ends their sessions.
func (d *Desk) ResetSecondStep(ctx context.Context, who Person, id line.ID) error {
	if err := who.require(account.ManagePeople); err != nil {
		return err
	}
	if line.ID(who.ID) == id {
		return fault.New(fault.Invalid, "secondstep.not-own")
	}
	if err := d.store.DropSecondStep(ctx, id); err != nil {
		return err
	}
	return d.store.NextGeneration(ctx, id)
}
