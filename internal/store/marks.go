package store

import (
	"context"
	"math"
	"time"

	"dwellbook/internal/line"
)

const markColumns = "subject, line, happened, seq, known, part, gone, kind, precision, ward, until, a, b, c"

func scanMark(row scan) (line.Mark, error) {
	var m line.Mark
	var a, b, c int64
	err := row(&m.Subject, &m.Line, &m.At, &m.Seq, &m.Known, &m.Part, &m.Gone, &m.Kind, &m.Precision, &m.Ward, &m.Until, &a, &b, &c)
	m.Detail = line.Unpack(a, b, c)
	return m, err
}

// LastSeq is the place of the last entry; 0: there is none.
func (s *Store) LastSeq(ctx context.Context) (int64, error) {
	seq, _, err := one(ctx, s, lastSeq, value[int64])
	return seq, err
}

// SeqBefore is the highest place of an entry recorded before known; 0: none was.
func (s *Store) SeqBefore(ctx context.Context, known time.Time) (int64, error) {
	snap, err := s.snapshot(ctx)
	if err != nil {
		return 0, err
	}
	defer snap.done()
	last, _, err := one(ctx, snap, lastSeq, value[int64])
	if err != nil {
		return 0, err
	}
	eras, err := all(ctx, snap, erasBackwards, value[int64])
	if err != nil {
		return 0, err
	}
	for _, first := range eras {
		seq, err := lastBefore(ctx, snap, first, last, ceilMS(known))
		if err != nil || seq > 0 {
			return seq, err
		}
		last = first - 1
	}
	return 0, nil
}

// lastBefore finds, within one era, the last entry recorded before the millisecond.
func lastBefore(ctx context.Context, a asker, first, last, ms int64) (int64, error) {
	low, high := first-1, last // everything up to low is before; high may be
	for low < high {
		middle := low + (high-low+1)/2
		at, _, err := one(ctx, a, recordedOf, value[int64], middle)
		if err != nil {
			return 0, err
		}
		if at < ms {
			low = middle
		} else {
			high = middle - 1
		}
	}
	if low < first {
		return 0, nil
	}
	return low, nil
}

// ceilMS is the first millisecond not before t.
func ceilMS(t time.Time) int64 {
	ms := t.UnixMilli()
	if t.After(time.UnixMilli(ms)) {
		ms++
	}
	return ms
}

// Marks gives the marks of a patient that stand once the entries up to seq are
// known; 0: all entries.
func (s *Store) Marks(ctx context.Context, subject line.Key, seq int64) ([]line.Mark, error) {
	return marksOf(ctx, s, subject, seq)
}

func marksOf(ctx context.Context, a asker, subject line.Key, seq int64) ([]line.Mark, error) {
	if seq == 0 {
		return all(ctx, a, standingMarks, scanMark, int64(subject))
	}
	return all(ctx, a, marksKnown, scanMark, int64(subject), seq)
}

// MarksOf calls f with the marks of each patient, in the order given, as one
// moment of the record has them.
func (s *Store) MarksOf(ctx context.Context, subjects []line.Key, seq int64, f func(line.Key, []line.Mark) error) error {
	snap, err := s.snapshot(ctx)
	if err != nil {
		return err
	}
	defer snap.done()
	for _, subject := range subjects {
		marks, err := marksOf(ctx, snap, subject, seq)
		if err != nil {
			return err
		}
		if err := f(subject, marks); err != nil {
			return err
		}
	}
	return nil
}

// Candidates gives the patients who may have had a line in, or an occasion, in
// the stretch, as any version of the record told, and all who have a line in
// now that was placed before the end. It is a superset: the audit decides. An
// empty stretch is one moment.
func (s *Store) Candidates(ctx context.Context, from, until line.Minute) ([]line.Key, error) {
	until = max(until, from+1)
	last := dayOf(min(until-1, math.MaxInt32))
	return all(ctx, s, candidates, value[line.Key], dayOf(from), last, int64(until))
}

var (
	lastSeq       = stated(reading, "read the last place", "SELECT seq FROM entry ORDER BY seq DESC LIMIT 1")
	erasBackwards = stated(reading, "read the eras", "SELECT first_seq FROM era ORDER BY first_seq DESC")
	standingMarks = stated(reading, "read a patient's marks", "SELECT "+markColumns+" FROM mark WHERE subject = ? AND gone = 0")
	marksKnown    = stated(reading, "read a patient's marks as known then", "SELECT "+markColumns+` FROM mark
		WHERE subject = ?1 AND known <= ?2 AND (gone = 0 OR gone > ?2)`)
	candidates = stated(reading, "find patients by days", `
		SELECT subject FROM span WHERE day BETWEEN ?1 AND ?2
		UNION SELECT subject FROM span WHERE day = -1
		UNION SELECT subject FROM line INDEXED BY line_open WHERE out IS NULL AND first < ?3
		ORDER BY 1`)
)
