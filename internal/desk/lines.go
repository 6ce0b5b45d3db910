package desk

import (
	"context"
	"fmt"
	"slices"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// LinePage is one line with all that is recorded about it.
type LinePage struct {
	At       line.Minute
	Ward     Ward
	Patient  line.Patient
	Line     line.Current
	History  *line.Line // nil where the occasion ended without a line
	Occasion line.Entry // as it now stands
	Findings []audit.Finding
	Answered []audit.Finding // covered by a justification
	Row      *Row            // for the strip; nil once it is out
	Events   []Event         // newest first
	Policy   *audit.Policy
}

// Event is one entry on a timeline, with what became of it.
type Event struct {
	line.Record
	By       string      // the author's name
	Changes  []Event     // corrections and the void of it, oldest first
	Standing *line.Entry // the version that holds; nil where it was withdrawn
}

// PatientPage is one patient with lines past and present.
type PatientPage struct {
	At       line.Minute
	Ward     Ward // zero: in no ward
	Patient  line.Patient
	Lines    []line.Current
	Subject  line.Subject
	Findings []audit.Finding
	Events   []Event // of the patient and of no one line, newest first
}

// Line opens a line, and notes who did.
func (d *Desk) Line(ctx context.Context, who Person, id line.ID) (*LinePage, error) {
	if err := who.require(account.SeeWards); err != nil {
		return nil, err
	}
	current, err := d.store.Line(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := d.see(ctx, who, current.Subject, current.Key, openedLine); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	patient, err := d.store.PatientByKey(ctx, current.Subject)
	if err != nil {
		return nil, err
	}
	a, err := d.assess(ctx, h, current.Subject)
	if err != nil {
		return nil, err
	}
	events, err := d.events(ctx, h, current.SubjectID)
	if err != nil {
		return nil, err
	}
	now := d.Now()
	page := &LinePage{
		At: now, Ward: h.WardByKey(current.Ward), Patient: patient, Line: current, History: a.History.LineOf(current.Key),
		Policy: h.Rulebook.PolicyAt(now),
	}
	of := func(f audit.Finding) bool { return f.Line != current.Key && f.Line != 0 }
	page.Findings = slices.DeleteFunc(findingsAt(a, now), of)
	page.Answered = slices.DeleteFunc(a.Answered(), of)
	if page.History != nil && page.History.Removal == nil {
		row := rowOf(patient, current, a, page.History, now)
		page.Row = &row
	}
	for _, e := range events {
		if e.touches(id) {
			page.Events = append(page.Events, e)
		}
		if e.Standing != nil && e.Standing.Kind == line.KindOccasion && e.Standing.Line == id {
			page.Occasion = *e.Standing
		}
	}
	return page, nil
}

// Whose gives a line with its patient and ward, for an act on it: no history
// is opened, so none is noted as opened.
func (d *Desk) Whose(ctx context.Context, who Person, id line.ID) (line.Current, line.Patient, Ward, error) {
	if err := who.require(account.RecordCare); err != nil {
		return line.Current{}, line.Patient{}, Ward{}, err
	}
	current, patient, err := d.store.LineOf(ctx, id)
	if err != nil {
		return line.Current{}, line.Patient{}, Ward{}, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return line.Current{}, line.Patient{}, Ward{}, err
	}
	return current, patient, h.WardByKey(current.Ward), nil
}

// touches reports whether the entry, in any version, is about the line, or
// about the patient as a whole.
func (e Event) touches(id line.ID) bool {
	if e.Entry.Line == "" || e.Entry.Line == id {
		return true
	}
	return e.Standing != nil && e.Standing.Line == id
}

// Patient opens a patient, and notes who did.
func (d *Desk) Patient(ctx context.Context, who Person, id line.ID) (*PatientPage, error) {
	if err := who.require(account.SeeWards); err != nil {
		return nil, err
	}
	patient, err := d.store.Patient(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := d.see(ctx, who, patient.Key, 0, openedPatient); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	a, err := d.assess(ctx, h, patient.Key)
	if err != nil {
		return nil, err
	}
	lines, err := d.store.Lines(ctx, patient.Key)
	if err != nil {
		return nil, err
	}
	events, err := d.events(ctx, h, id)
	if err != nil {
		return nil, err
	}
	page := &PatientPage{At: d.Now(), Patient: patient, Lines: lines, Subject: a.History, Findings: findingsAt(a, d.Now())}
	if patient.Ward != 0 {
		page.Ward = h.WardByKey(patient.Ward)
	}
	page.Events = slices.DeleteFunc(events, func(e Event) bool { return e.Entry.Line != "" })
	return page, nil
}

// FindPatient finds patients by reference: for a patient who comes back.
func (d *Desk) FindPatient(ctx context.Context, who Person, reference string) ([]line.Patient, error) {
	if err := who.require(account.SeeWards); err != nil {
		return nil, err
	}
	return d.store.PatientsByReference(ctx, reference)
}

// events are the patient's entries, each with its later versions, newest first.
func (d *Desk) events(ctx context.Context, h *House, subject line.ID) ([]Event, error) {
	records, err := d.store.History(ctx, subject)
	if err != nil {
		return nil, fmt.Errorf("history of %s: %w", subject, err)
	}
	byRoot := map[line.ID]int{}
	var events []Event
	for _, r := range records {
		e := Event{Record: r, By: h.NameOf(r.Entry.Author)}
		i, known := byRoot[r.Root]
		if r.Root == r.Entry.ID || !known {
			standing := r.Entry
			e.Standing = &standing
			byRoot[r.Entry.ID] = len(events)
			events = append(events, e)
			continue
		}
		root := &events[i]
		root.Changes = append(root.Changes, e)
		root.Standing = nil
		if c, ok := r.Entry.Body.(line.Correction); ok {
			standing := c.Replacement
			root.Standing = &standing
		}
	}
	slices.SortStableFunc(events, func(x, y Event) int { return int(y.moment() - x.moment()) })
	return events, nil
}

// moment is where the event stands on a timeline.
func (e Event) moment() line.Minute {
	if e.Standing != nil {
		return e.Standing.Happened
	}
	return e.Entry.Happened
}

// linesOf gives the lines that a list is about, by key.
func linesOf[T any](ctx context.Context, d *Desk, list []T, key func(T) line.Key) (map[line.Key]line.Current, error) {
	var keys []line.Key
	for _, one := range list {
		if k := key(one); k != 0 {
			keys = append(keys, k)
		}
	}
	slices.Sort(keys)
	lines, err := d.store.LinesByKey(ctx, slices.Compact(keys))
	if err != nil {
		return nil, fmt.Errorf("lines: %w", err)
	}
	return lines, nil
}
