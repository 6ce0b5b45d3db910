package desk

import (
	"context"
	"fmt"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// ShareRecord lets one other person read a copy of the person's record as it is
// now. share is made by whoever asks, so that the same request twice shares once.
func (d *Desk) ShareRecord(ctx context.Context, who Person, share, with line.ID) error {
	own, err := d.OwnAttempts(ctx, who)
	if err != nil {
		return err
	}
	h, err := d.House(ctx)
	if err != nil {
		return err
	}
	if p, ok := h.People[with]; !ok || !p.May(account.SeeOwnRecord) || string(with) == who.ID {
		return fault.Field("with", "desk.share-with")
	}
	before, err := d.store.Share(ctx, share)
	switch {
	case err == nil && before.Account == line.ID(who.ID) && before.With == with:
		return nil
	case err == nil:
		return fault.New(fault.Conflict, "desk.share-taken")
	case !fault.Is(err, fault.NotFound):
		return err
	}
	return d.recordHouse(ctx, who, line.Entry{Kind: line.KindRecordShare, Body: line.RecordShare{
		Share: share, Account: line.ID(who.ID), With: with, Attempts: h.copies(own.Counted), Stopped: own.Stopped,
	}})
}

// TakeBackShare ends a share of the person's record: nobody can open it again.
// NotFound where the person has no such share.
func (d *Desk) TakeBackShare(ctx context.Context, who Person, share line.ID) error {
	if err := who.require(account.SeeOwnRecord); err != nil {
		return err
	}
	s, err := d.store.Share(ctx, share)
	switch {
	case err != nil:
		return err
	case s.Account != line.ID(who.ID):
		return noShare()
	case s.TakenBack:
		return nil
	}
	return d.recordHouse(ctx, who, line.Entry{Kind: line.KindRecordShare, Body: line.RecordShare{
		Share: share, Account: s.Account, With: s.With, TakenBack: true,
	}})
}

// SharesGiven are the copies of their record that the person ever shared, the
// latest first.
func (d *Desk) SharesGiven(ctx context.Context, who Person) ([]line.SharedRecord, error) {
	if err := who.require(account.SeeOwnRecord); err != nil {
		return nil, err
	}
	return d.store.SharesBy(ctx, line.ID(who.ID))
}

// SharesReceived are the copies that others let the person read, the latest first.
func (d *Desk) SharesReceived(ctx context.Context, who Person) ([]line.SharedRecord, error) {
	if err := who.require(account.SeeOwnRecord); err != nil {
		return nil, err
	}
	return d.store.SharesWith(ctx, line.ID(who.ID))
}

// SharedCopy is a copy of a person's record, as it was when it was shared.
type SharedCopy struct {
	line.SharedRecord
	Tried   []line.Tried // as they counted then; without the ids of lines
	Stopped int
}

// OpenShare opens a copy, for the one it was shared with and for the person
// whose record it is; to everybody else, and once it was taken back, there is
// none (NotFound). That somebody looked is noted first.
func (d *Desk) OpenShare(ctx context.Context, who Person, share line.ID) (SharedCopy, error) {
	if err := who.require(account.SeeOwnRecord); err != nil {
		return SharedCopy{}, err
	}
	s, err := d.store.Share(ctx, share)
	if err != nil {
		return SharedCopy{}, err
	}
	reader := line.ID(who.ID)
	if s.TakenBack || reader != s.With && reader != s.Account {
		return SharedCopy{}, noShare()
	}
	if reader != s.Account {
		look := account.Access{Account: who.ID, Record: string(s.Account), What: "record", At: d.clock()}
		if err := d.store.NoteAccess(ctx, look); err != nil {
			return SharedCopy{}, fmt.Errorf("note a look at share %s: %w", share, err)
		}
	}
	h, err := d.House(ctx)
	if err != nil {
		return SharedCopy{}, err
	}
	rec, err := d.store.Entry(ctx, s.Entry)
	if err != nil {
		return SharedCopy{}, fmt.Errorf("open share %s: %w", share, err)
	}
	body, _ := rec.Entry.Body.(line.RecordShare)
	return SharedCopy{SharedRecord: s, Tried: h.tried(body.Attempts), Stopped: body.Stopped}, nil
}

// LooksAtOwnRecord tells the person who opened copies of their record, the
// latest first, limit at most.
func (d *Desk) LooksAtOwnRecord(ctx context.Context, who Person, limit int) ([]account.Access, error) {
	if err := who.require(account.SeeOwnRecord); err != nil {
		return nil, err
	}
	return d.store.Looks(ctx, line.ID(who.ID), limit)
}

func noShare() error { return fault.New(fault.NotFound, "store.no-share") }

// copies are attempts without what could lead to a patient.
func (h *House) copies(tried []line.Tried) []line.TriedCopy {
	occasions := map[line.Key]int{}
	copies := make([]line.TriedCopy, len(tried))
	for i, t := range tried {
		if occasions[t.Occasion] == 0 {
			occasions[t.Occasion] = len(occasions) + 1
		}
		c := line.TriedCopy{
			Occasion: occasions[t.Occasion], At: t.At, Precision: t.Precision, No: t.No, Of: t.Of, Site: t.Site, Side: t.Side, Gauge: t.Gauge,
			Failed: t.Failed, Fault: t.Fault, Outcome: t.Outcome, Ward: h.WardByKey(t.Ward).Ward.Ward, Difficulty: t.Difficulty,
			Supervised: t.Supervised,
		}
		if t.Assessed && t.Difficulty == 0 {
			c.Difficulty = line.SetOf(line.NotDifficult)
		}
		copies[i] = c
	}
	return copies
}

// tried are the attempts of a copy, as a record counts them.
func (h *House) tried(copies []line.TriedCopy) []line.Tried {
	tried := make([]line.Tried, len(copies))
	for i, c := range copies {
		ward, _ := h.Ward(c.Ward)
		tried[i] = line.Tried{
			Occasion: line.Key(c.Occasion), At: c.At, Precision: c.Precision, No: c.No, Of: c.Of, Site: c.Site, Side: c.Side, Gauge: c.Gauge,
			Failed: c.Failed, Fault: c.Fault, Outcome: c.Outcome, Ward: ward.Key,
			Difficulty: c.Difficulty &^ line.SetOf(line.NotDifficult), Assessed: c.Difficulty != 0, Supervised: c.Supervised,
		}
	}
	return tried
}
