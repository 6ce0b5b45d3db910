package store

import (
	"context"

	"dwellbook/internal/line"
)

func scanCurrent(row scan) (line.Current, error) {
	var c line.Current
	return c, row(currentFields(&c)...)
}

func currentFields(c *line.Current) []any {
	return []any{
		&c.Key, &c.ID, &c.Subject, &c.SubjectID, &c.Ward, &c.Outcome, &c.Site, &c.Side, &c.Gauge,
		&c.Placed, &c.Precision, &c.Out, &c.Reason,
	}
}

// Lines gives a patient's lines and occasions, in the order placed.
func (s *Store) Lines(ctx context.Context, subject line.Key) ([]line.Current, error) {
	return all(ctx, s, linesOf, scanCurrent, int64(subject))
}

// Line gives a line, or an occasion that ended without one. NotFound:
// store.no-line; also where the occasion was withdrawn.
func (s *Store) Line(ctx context.Context, id line.ID) (line.Current, error) {
	return found(ctx, s, lineByID, scanCurrent, "store.no-line", string(id))
}

// LineOf gives a line, or an occasion that ended without one, with its patient.
// NotFound: store.no-line.
func (s *Store) LineOf(ctx context.Context, id line.ID) (line.Current, line.Patient, error) {
	type lineOf struct {
		line    line.Current
		patient line.Patient
	}
	both, err := found(ctx, s, lineAndPatient, func(row scan) (lineOf, error) {
		var l lineOf
		return l, row(append(currentFields(&l.line), patientFields(&l.patient)...)...)
	}, "store.no-line", string(id))
	return both.line, both.patient, err
}

// LinesByKey gives the lines that there are of those asked for.
func (s *Store) LinesByKey(ctx context.Context, keys []line.Key) (map[line.Key]line.Current, error) {
	lines := make(map[line.Key]line.Current, len(keys))
	err := each(ctx, s, linesByKey, func(row scan) error {
		c, err := scanCurrent(row)
		lines[c.Key] = c
		return err
	}, keyList(keys))
	return lines, err
}

// currentColumns reads a line that is in as out at line.Far.
const currentColumns = `l.line, k.id, l.subject, s.id, l.ward, l.outcome, l.site, l.side, l.gauge, l.placed, l.precision,
	coalesce(l.out, 1 << 40), l.reason`

var (
	linesOf = stated(reading, "read a patient's lines", "SELECT "+currentColumns+` FROM line l
		JOIN line_key k ON k.key = l.line JOIN subject_key s ON s.key = l.subject
		WHERE l.subject = ? ORDER BY l.placed, l.line`)
	lineByID = stated(reading, "find a line", "SELECT "+currentColumns+` FROM line_key k
		JOIN home h ON h.line = k.key JOIN line l ON l.subject = h.subject AND l.line = h.line
		JOIN subject_key s ON s.key = l.subject WHERE k.id = ?`)
	lineAndPatient = stated(reading, "find a line and its patient", "SELECT "+currentColumns+", "+patientColumns("s")+` FROM line_key k
		JOIN home h ON h.line = k.key JOIN line l ON l.subject = h.subject AND l.line = h.line
		JOIN subject_key s ON s.key = l.subject JOIN patient p ON p.subject = l.subject WHERE k.id = ?`)
	linesByKey = stated(reading, "read many lines", "SELECT "+currentColumns+` FROM home h
		CROSS JOIN line l CROSS JOIN line_key k CROSS JOIN subject_key s
		WHERE h.line IN (SELECT value FROM json_each(?)) AND l.subject = h.subject AND l.line = h.line
		AND k.key = l.line AND s.key = l.subject`)
)

// Beds gives the beds that admissions and transfers named, by their places in the record.
func (s *Store) Beds(ctx context.Context, moves []int64) (map[int64]string, error) {
	keys := make([]line.Key, len(moves))
	for i, m := range moves {
		keys[i] = line.Key(m)
	}
	beds := make(map[int64]string, len(moves))
	err := each(ctx, s, bedsOf, func(row scan) error {
		var root int64
		var bed string
		err := row(&root, &bed)
		beds[root] = bed
		return err
	}, keyList(keys))
	return beds, err
}

var bedsOf = stated(reading, "read beds", "SELECT root, bed FROM stay_text WHERE root IN (SELECT value FROM json_each(?1))")
