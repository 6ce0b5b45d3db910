package desk

import (
	"context"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// OwnAttempts are a person's attempts, oldest first, by whether they count.
// What somebody else recorded counts once the person has agreed to it.
type OwnAttempts struct {
	Counted  []line.Tried
	Waiting  []line.Tried // the person has not said yet
	Declined []line.Tried // not theirs, the person said; may be taken back
	Stopped  int          // occasions that ended before skin
}

// OwnAttempts are the person's own, and nobody else's: there is no way to ask
// for another person's.
func (d *Desk) OwnAttempts(ctx context.Context, who Person) (OwnAttempts, error) {
	var own OwnAttempts
	if err := who.require(account.SeeOwnRecord); err != nil {
		return own, err
	}
	tried, err := d.store.Attempts(ctx, line.ID(who.ID))
	if err != nil {
		return own, err
	}
	for _, t := range tried {
		switch {
		case t.Counts():
			own.Counted = append(own.Counted, t)
		case t.Waits():
			own.Waiting = append(own.Waiting, t)
		default:
			own.Declined = append(own.Declined, t)
		}
	}
	own.Stopped, err = d.store.Stopped(ctx, line.ID(who.ID))
	return own, err
}

// AnswerAttempts is the person's answer to attempts that somebody else recorded
// as theirs, by the entries that say so (line.Tried.Version). It can be changed
// by answering again, and counts until somebody else changes such an entry.
func (d *Desk) AnswerAttempts(ctx context.Context, who Person, versions []line.ID, answer line.Answer) error {
	if err := who.require(account.SeeOwnRecord); err != nil {
		return err
	}
	if answer == 0 {
		return fault.Field("answer", "check.agreed")
	}
	tried, err := d.store.Attempts(ctx, line.ID(who.ID))
	if err != nil {
		return err
	}
	said := map[line.ID]line.Answer{}
	for _, t := range tried {
		if t.ByOther {
			said[t.Version] = t.Agreed
		}
	}
	var entries []line.Entry
	for _, v := range versions {
		before, theirs := said[v]
		if !theirs {
			return fault.New(fault.NotFound, "desk.no-such-attempts")
		}
		if before == answer {
			continue
		}
		said[v] = answer
		entries = append(entries, line.Entry{Kind: line.KindAttemptAgreement, Body: line.AttemptAgreement{
			Account: line.ID(who.ID), Version: v, Agreed: answer,
		}})
	}
	if entries == nil {
		return nil
	}
	return d.recordHouse(ctx, who, entries...)
}
