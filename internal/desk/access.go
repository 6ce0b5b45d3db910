package desk

import (
	"context"
	"slices"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// What was opened, as the record of access has it.
const (
	openedPatient = "patient"
	openedLine    = "line"
	openedAccess  = "access" // the record of who opened the patient
)

// Opened is one line of the record of access, with whom and what it names.
type Opened struct {
	account.Access
	Who     account.Account // without a name where the account is not known
	Patient line.Patient
	Current line.Current // the line; zero where none was opened
}

// accessesShown is how far back the record of access is shown.
const accessesShown = 200

// Accesses gives who opened a patient or any of their lines, the latest first;
// of no patient, who opened any. To ask about a patient is itself noted.
func (d *Desk) Accesses(ctx context.Context, who Person, patient line.ID) ([]Opened, error) {
	if err := who.require(account.SeeAudit); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	list, err := d.accesses(ctx, who, patient)
	if err != nil {
		return nil, err
	}
	opened := make([]Opened, len(list))
	patients := map[int64]line.Patient{}
	var keys []line.Key
	for i, a := range list {
		p, ok := patients[a.Subject]
		if !ok {
			if p, err = d.store.PatientByKey(ctx, line.Key(a.Subject)); err != nil && !fault.Is(err, fault.NotFound) {
				return nil, err
			}
			patients[a.Subject] = p
		}
		if key := line.Key(a.Line); key != 0 && !slices.Contains(keys, key) {
			keys = append(keys, key)
		}
		opened[i] = Opened{Access: a, Who: h.People[line.ID(a.Account)], Patient: p}
	}
	lines, err := d.store.LinesByKey(ctx, keys)
	if err != nil {
		return nil, err
	}
	for i := range opened {
		opened[i].Current = lines[line.Key(opened[i].Line)]
	}
	return opened, nil
}

func (d *Desk) accesses(ctx context.Context, who Person, patient line.ID) ([]account.Access, error) {
	if patient == "" {
		return d.store.LatestAccesses(ctx, accessesShown)
	}
	p, err := d.store.Patient(ctx, patient)
	if err != nil {
		return nil, err
	}
	list, err := d.store.Accesses(ctx, p.Key, accessesShown)
	if err != nil {
		return nil, err
	}
	return list, d.see(ctx, who, p.Key, 0, openedAccess)
}

// PatientForAccess is the patient with the reference whose record of access is
// asked for: of several, the one admitted last.
func (d *Desk) PatientForAccess(ctx context.Context, who Person, reference string) (line.Patient, error) {
	if err := who.require(account.SeeAudit); err != nil {
		return line.Patient{}, err
	}
	found, err := d.store.PatientsByReference(ctx, reference)
	if err != nil {
		return line.Patient{}, err
	}
	if len(found) == 0 {
		return line.Patient{}, fault.Field("reference", "access.no-patient")
	}
	return found[0], nil
}
