package store

import (
	"context"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

func scanPatient(row scan) (line.Patient, error) {
	var p line.Patient
	return p, row(patientFields(&p)...)
}

func patientFields(p *line.Patient) []any {
	return []any{&p.Key, &p.ID, &p.Reference, &p.Ward, &p.LastWard, &p.Bed, &p.Admitted, &p.Erased}
}

// WardPatients gives the patients who are in the ward, and those discharged
// from it with a line still in. What it costs does not depend on the past.
func (s *Store) WardPatients(ctx context.Context, ward line.Key) ([]line.Patient, error) {
	return all(ctx, s, wardPatients, scanPatient, int64(ward))
}

// Patient gives a patient by id. NotFound: store.no-patient.
func (s *Store) Patient(ctx context.Context, id line.ID) (line.Patient, error) {
	return found(ctx, s, patientByID, scanPatient, "store.no-patient", string(id))
}

// PatientByKey gives a patient by key. NotFound: store.no-patient.
func (s *Store) PatientByKey(ctx context.Context, key line.Key) (line.Patient, error) {
	return found(ctx, s, patientByKey, scanPatient, "store.no-patient", int64(key))
}

// PatientsByReference gives the patients with the reference, latest admitted first.
func (s *Store) PatientsByReference(ctx context.Context, reference string) ([]line.Patient, error) {
	return all(ctx, s, patientsByReference, scanPatient, reference)
}

// found is one that must be there; else the error is NotFound with the key.
func found[T any](ctx context.Context, a asker, st *statement, f func(scan) (T, error), key string, args ...any) (T, error) {
	v, ok, err := one(ctx, a, st, f, args...)
	if err == nil && !ok {
		err = fault.New(fault.NotFound, key)
	}
	return v, err
}

// patientColumns are a patient's columns; keys is how the statement calls the patients' keys.
func patientColumns(keys string) string {
	return "p.subject, " + keys + ".id, p.reference, p.ward, p.last_ward, p.bed, p.admitted, p.erased"
}

var (
	wardPatients = stated(reading, "read a ward's patients", `
		SELECT `+patientColumns("k")+` FROM patient p JOIN subject_key k ON k.key = p.subject WHERE p.ward = ?1 AND p.ward <> 0
		UNION ALL
		SELECT `+patientColumns("k")+` FROM patient p JOIN subject_key k ON k.key = p.subject
			WHERE p.last_ward = ?1 AND p.ward = 0 AND p.open > 0`)
	patientByID = stated(reading, "find a patient",
		"SELECT "+patientColumns("k")+" FROM subject_key k JOIN patient p ON p.subject = k.key WHERE k.id = ?")
	patientByKey = stated(reading, "read a patient",
		"SELECT "+patientColumns("k")+" FROM patient p JOIN subject_key k ON k.key = p.subject WHERE p.subject = ?")
	patientsByReference = stated(reading, "find patients by reference", "SELECT "+patientColumns("k")+` FROM patient p
		JOIN subject_key k ON k.key = p.subject WHERE p.reference = ?1 AND p.reference <> '' ORDER BY p.admitted DESC, p.subject DESC`)
)
