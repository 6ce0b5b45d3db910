package desk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// NewID makes a random id for an entry, a patient or a line.
func NewID() line.ID { return line.ID(uuid.NewString()) }

// Act is entries that a person records together.
type Act struct {
	Entries []line.Entry
	// Now says that the moment is "now": where the same act arrives twice,
	// the second takes the moment of the first.
	Now bool
	// At is the moment that was "now" when the act was typed; 0: the desk's own.
	At line.Minute
	// BedConfirmed answers the question whether the other patient in the bed has moved.
	BedConfirmed bool
}

// rightFor is the right that recording an entry of the kind needs.
func rightFor(k line.Kind) account.Right {
	switch k {
	case line.KindInfection, line.KindFollowUp:
		return account.JudgeLines
	case line.KindPolicy, line.KindWard, line.KindHospital, line.KindAccount, line.KindOperatorLink, line.KindErasure:
		return account.ManagePeople
	case line.KindAttemptAgreement, line.KindRecordShare:
		return "" // by the person alone, who does not record them as acts
	}
	return account.RecordCare
}

// Record stores what a person did. An error of kind Invalid names the fields;
// one of kind Conflict says what it contradicts. Neither changes anything.
func (d *Desk) Record(ctx context.Context, who Person, act Act) ([]line.Receipt, error) {
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	entries, err := d.prepare(who, act)
	if err != nil {
		return nil, err
	}
	if err := d.checkRoots(ctx, who, entries); err != nil {
		return nil, err
	}
	if err := d.checkBeds(ctx, entries, act.BedConfirmed); err != nil {
		return nil, err
	}
	if err := d.checkFistula(ctx, h, entries); err != nil {
		return nil, err
	}
	receipts, err := d.store.Append(ctx, line.Batch{Entries: entries})
	if Taken(err) {
		// It arrived before: only then is it looked up.
		if err := d.asBefore(ctx, entries, act.Now); err != nil {
			return nil, err
		}
		receipts, err = d.store.Append(ctx, line.Batch{Entries: entries})
	}
	if err != nil {
		return nil, fmt.Errorf("record %d entries: %w", len(entries), err)
	}
	return receipts, nil
}

// Taken reports whether another entry has the id.
func Taken(err error) bool {
	var f *fault.Error
	return errors.As(err, &f) && f.Key == "store.same-id"
}

// asBefore gives entries whose moment is that of recording (corrections and
// voids always; others where now) the moments they had when they arrived before.
func (d *Desk) asBefore(ctx context.Context, entries []line.Entry, now bool) error {
	for i := range entries {
		if k := entries[i].Kind; !now && k != line.KindCorrection && k != line.KindVoid {
			continue
		}
		before, err := d.store.Entry(ctx, entries[i].ID)
		switch {
		case err == nil:
			entries[i].Happened = before.Entry.Happened
		case !fault.Is(err, fault.NotFound):
			return err
		}
	}
	return nil
}

// Sent is the moment from which a form counts: that at which the entry it makes
// was first recorded, so that the same form says the same when it arrives again.
func (d *Desk) Sent(ctx context.Context, id line.ID) (line.Minute, error) {
	at, ok, err := d.store.RecordedAt(ctx, id)
	if err != nil {
		return 0, fmt.Errorf("when entry %s was sent: %w", id, err)
	}
	if !ok {
		return d.Now(), nil
	}
	return line.MinuteOf(at), nil
}

// prepare checks the rights and stamps author, version and, where the moment is now, that.
func (d *Desk) prepare(who Person, act Act) ([]line.Entry, error) {
	entries := slices.Clone(act.Entries)
	for i := range entries {
		e := &entries[i]
		right := rightFor(e.Kind)
		if c, ok := e.Body.(line.Correction); ok {
			right = rightFor(c.Replacement.Kind)
			c.Replacement.Version, c.Replacement.Author = line.FormatVersion, line.ID(who.ID)
			e.Body = c
		}
		if err := who.require(right); err != nil {
			return nil, err
		}
		e.Version, e.Author = line.FormatVersion, line.ID(who.ID)
		if act.Now {
			e.Happened, e.Precision = cmp.Or(act.At, d.Now()), line.ToMinute
		}
	}
	return entries, nil
}

// checkRoots refuses to correct or withdraw what the person may not record.
func (d *Desk) checkRoots(ctx context.Context, who Person, entries []line.Entry) error {
	for _, e := range entries {
		var root line.ID
		switch b := e.Body.(type) {
		case line.Correction:
			root = b.Root
		case line.Void:
			root = b.Root
		default:
			continue
		}
		rec, err := d.store.Entry(ctx, root)
		if fault.Is(err, fault.NotFound) {
			continue // the record says so
		}
		if err != nil {
			return err
		}
		if err := who.require(rightFor(rec.Entry.Kind)); err != nil {
			return err
		}
	}
	return nil
}

// checkBeds asks whether another patient whose line is still in has left the bed.
func (d *Desk) checkBeds(ctx context.Context, entries []line.Entry, confirmed bool) error {
	if confirmed {
		return nil
	}
	for _, e := range entries {
		ward, bed := bedOf(e)
		if bed == "" {
			continue
		}
		h, err := d.House(ctx)
		if err != nil {
			return err
		}
		w, ok := h.Ward(ward)
		if !ok {
			return fault.Field("ward", "fault.no-such-ward")
		}
		patients, err := d.store.WardPatients(ctx, w.Key)
		if err != nil {
			return err
		}
		for _, p := range patients {
			if p.Bed != bed || p.ID == e.Subject || p.Ward != w.Key {
				continue
			}
			lines, err := d.store.Lines(ctx, p.Key)
			if err != nil {
				return err
			}
			if slices.ContainsFunc(lines, open) {
				return &fault.Error{
					Kind: fault.Invalid, Key: "desk.bed-taken", Args: []any{"bed", bed, "reference", p.Reference},
					Fields: fault.Fields{"bed_confirmed": {Key: "desk.bed-taken", Args: []any{"bed", bed, "reference", p.Reference}}},
				}
			}
		}
	}
	return nil
}

func open(c line.Current) bool { return c.Outcome == line.WithLine && c.Out == line.Far }

func bedOf(e line.Entry) (line.ID, string) {
	switch b := e.Body.(type) {
	case line.Admission:
		return b.Ward, string(b.Bed)
	case line.Transfer:
		return b.Ward, string(b.Bed)
	}
	return "", ""
}

// checkFistula refuses a new line in a limb with a fistula unless a named
// clinician's reason is recorded with it.
func (d *Desk) checkFistula(ctx context.Context, h *House, entries []line.Entry) error {
	answered := slices.ContainsFunc(entries, func(e line.Entry) bool { return e.Kind == line.KindJustification })
	if answered {
		return nil
	}
	for _, e := range entries {
		c, ok := e.Body.(line.Correction)
		if !ok || c.Replacement.Kind != line.KindOccasion {
			continue
		}
		// A line that lay there before was answered for, or found out about, then.
		was, err := d.Version(ctx, System(), c.Root, c.Seen)
		if err != nil {
			return err
		}
		if d.checkFistula(ctx, h, []line.Entry{was}) != nil {
			continue
		}
		if err := d.checkFistula(ctx, h, []line.Entry{c.Replacement}); err != nil {
			return err
		}
	}
	placing := slices.ContainsFunc(entries, func(e line.Entry) bool { return e.Kind == line.KindOccasion })
	if !placing {
		return nil
	}
	findings, err := d.advise(ctx, h, entries)
	if err != nil {
		return err
	}
	for _, f := range findings {
		if f.Severity == audit.ActNow && f.Rule == audit.LimbRestricted {
			return fault.Field("clinician", "desk.fistula-needs-clinician")
		}
	}
	return nil
}

// Advise gives the findings that would hold of the lines in entries if they
// were recorded: the same rules by the same code as the audit. Entries that
// cannot be assessed yet, because something is still missing, give none.
func (d *Desk) Advise(ctx context.Context, who Person, act Act) ([]audit.Finding, error) {
	if err := who.require(account.RecordCare); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	entries, err := d.prepare(who, act)
	if err != nil {
		return nil, err
	}
	return d.advise(ctx, h, entries)
}

func (d *Desk) advise(ctx context.Context, h *House, entries []line.Entry) ([]audit.Finding, error) {
	k := &futureKeys{house: h, lines: map[line.ID]line.Key{}}
	var marks []line.Mark
	for _, e := range entries {
		if p, err := d.store.Patient(ctx, e.Subject); err == nil && k.subject == 0 {
			k.subject = p.Key
			if marks, err = d.store.Marks(ctx, p.Key, 0); err != nil {
				return nil, err
			}
			if err := d.knownLines(ctx, p.Key, k); err != nil {
				return nil, err
			}
		} else if err != nil && !fault.Is(err, fault.NotFound) {
			return nil, err
		}
	}
	at := d.Now()
	var fresh []line.Key
	for i, e := range entries {
		const future = 1 << 60 // after everything recorded
		added := line.Marks(e, k, future+int64(i), future+int64(i))
		marks = append(marks, added...)
		if e.Kind == line.KindOccasion {
			of := k.LineKey(e.Line)
			fresh = append(fresh, of)
			// Of a placement that is corrected, only the new version counts.
			marks = slices.DeleteFunc(marks, func(m line.Mark) bool {
				return m.Line == of && m.Kind == line.KindOccasion && m.Seq < future
			})
		}
		at = max(at, e.Happened)
	}
	a := audit.Assess(h.Rulebook, marks, at)
	return slices.DeleteFunc(a.Findings(), func(f audit.Finding) bool {
		return f.Line != 0 && !slices.Contains(fresh, f.Line) || f.Rule == audit.RecordIncomplete
	}), nil
}

func (d *Desk) knownLines(ctx context.Context, subject line.Key, k *futureKeys) error {
	lines, err := d.store.Lines(ctx, subject)
	if err != nil {
		return err
	}
	for _, l := range lines {
		k.lines[l.ID] = l.Key
	}
	return nil
}

// futureKeys gives keys to things that are not recorded yet.
type futureKeys struct {
	house   *House
	subject line.Key
	lines   map[line.ID]line.Key
	next    line.Key
}

func (k *futureKeys) SubjectKey(line.ID) line.Key { return k.subject }

func (k *futureKeys) LineKey(id line.ID) line.Key {
	if key, ok := k.lines[id]; ok {
		return key
	}
	k.next--
	k.lines[id] = k.next
	return k.next
}

func (k *futureKeys) WardKey(id line.ID) line.Key {
	w, _ := k.house.Ward(id)
	return w.Key
}

// Latest is an entry of the patient as it now stands, for correcting it: the
// latest version and the id of the version that is.
func (d *Desk) Latest(ctx context.Context, who Person, root line.ID) (entry line.Entry, seen line.ID, err error) {
	if err := who.require(account.RecordCare); err != nil {
		return line.Entry{}, "", err
	}
	rec, err := d.store.Entry(ctx, root)
	if err != nil {
		return line.Entry{}, "", err
	}
	entry, seen = rec.Entry, rec.Entry.ID
	for rec.Replaced != "" {
		if rec, err = d.store.Entry(ctx, rec.Replaced); err != nil {
			return line.Entry{}, "", err
		}
		c, ok := rec.Entry.Body.(line.Correction)
		if !ok {
			return line.Entry{}, "", fault.New(fault.Conflict, "desk.already-void")
		}
		entry, seen = c.Replacement, rec.Entry.ID
	}
	return entry, seen, nil
}
