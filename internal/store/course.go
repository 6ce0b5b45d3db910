package store

import (
	"context"

	"dwellbook/internal/line"
)

// Courses calls f with every line, as it now stands, that was in at some minute
// of the stretch or came out in it, in no order.
func (s *Store) Courses(ctx context.Context, in line.Stretch, f func(line.Course)) error {
	scanCourse := courseScanner()
	read := func(row scan) error {
		c, err := scanCourse(row)
		if err == nil {
			f(c)
		}
		return err
	}
	snap, err := s.snapshot(ctx)
	if err != nil {
		return err
	}
	defer snap.done()
	if err := each(ctx, snap, coursesPlaced, read, int64(in.From), int64(in.Until)); err != nil {
		return err
	}
	return each(ctx, snap, coursesBefore, read, int64(in.From), dayOf(in.From))
}

// Inserters gives the accounts that placed the lines placed in the stretch, by
// line, and under names as written that a person has accepted.
func (s *Store) Inserters(ctx context.Context, in line.Stretch) (map[line.Key]line.ID, error) {
	by := map[line.Key]line.ID{}
	err := each(ctx, s, insertersOf, func(row scan) error {
		var key line.Key
		var account line.ID
		err := row(&key, &account)
		by[key] = account
		return err
	}, int64(in.From), int64(in.Until))
	return by, err
}

// courseScanner reads rows of courses; like markScanner it takes the driver's
// integers as they are.
func courseScanner() func(scan) (line.Course, error) {
	var values, into [11]any
	for i := range values {
		into[i] = &values[i]
	}
	return func(row scan) (line.Course, error) {
		if err := row(into[:]...); err != nil {
			return line.Course{}, err
		}
		var n [11]int64
		for i, v := range values {
			n[i], _ = v.(int64) // the columns are integers and never null
		}
		return line.Course{
			Line: line.Key(n[0]), Ward: line.Key(n[1]), Placed: line.Minute(n[2]), Out: line.Minute(n[3]), Precision: line.Precision(n[4]),
			Site: line.Site(n[5]), Side: line.Side(n[6]), Gauge: line.Gauge(n[7]), Asepsis: line.Asepsis(n[8]), Reason: line.Reason(n[9]),
			Infection: line.Infection(n[10]),
		}, nil
	}
}

const courseColumns = `l.line, l.placed_ward, l.placed, coalesce(l.out, 1 << 40), l.precision, l.site, l.side, l.gauge, l.asepsis,
	l.reason, l.infection`

var (
	coursesPlaced = stated(reading, "read the lines placed in a stretch", "SELECT "+courseColumns+` FROM line l INDEXED BY line_placed
		WHERE l.outcome = 1 AND l.placed >= ?1 AND l.placed < ?2`)
	// A line that ended has a row of span for each day it was in, or one of day -1.
	coursesBefore = stated(reading, "read the lines in at a moment", "SELECT "+courseColumns+` FROM
		(SELECT subject, line FROM span WHERE day = ?2 UNION SELECT subject, line FROM span WHERE day = -1) s
		CROSS JOIN line l WHERE l.subject = s.subject AND l.line = s.line AND l.outcome = 1 AND l.placed < ?1 AND l.out >= ?1
		UNION ALL SELECT `+courseColumns+` FROM line l INDEXED BY line_open WHERE l.out IS NULL AND l.first <= ?1 AND l.outcome = 1 AND l.placed < ?1`)
	insertersOf = stated(reading, "read who placed the lines of a stretch", `SELECT l.line, coalesce(nullif(a.account, ''), n.account)
		FROM line l INDEXED BY line_placed CROSS JOIN home h CROSS JOIN attempt a
		LEFT JOIN accepted_name n ON a.account = '' AND a.written <> '' AND n.written = a.written
		WHERE l.outcome = 1 AND l.placed >= ?1 AND l.placed < ?2 AND h.line = l.line AND a.root = h.root AND a.failed = 0 AND a.no > 0
		AND coalesce(nullif(a.account, ''), n.account) IS NOT NULL`)
)
