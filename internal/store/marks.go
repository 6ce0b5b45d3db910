package store

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strconv"
	"time"

	"dwellbook/internal/line"
)

const markColumns = "subject, line, happened, seq, known, part, gone, kind, precision, ward, until, a, b, c"

// markScanner reads rows of mark. Millions are read for one answer, so it
// takes the driver's integers as they are and reuses where they land:
// database/sql would turn the small ones into text and back.
func markScanner() func(scan) (line.Mark, error) {
	var values [14]any
	var into [14]any
	for i := range values {
		into[i] = &values[i]
	}
	return func(row scan) (line.Mark, error) {
		if err := row(into[:]...); err != nil {
			return line.Mark{}, err
		}
		var n [14]int64
		for i, v := range values {
			n[i], _ = v.(int64) // the columns are integers and never null
		}
		return line.Mark{
			Subject: line.Key(n[0]), Line: line.Key(n[1]), At: line.Minute(n[2]), Seq: n[3], Known: n[4], Part: int(n[5]), Gone: n[6],
			Kind: line.Kind(n[7]), Precision: line.Precision(n[8]), Ward: line.Key(n[9]), Until: line.Minute(n[10]),
			Detail: line.Unpack(n[11], n[12], n[13]),
		}, nil
	}
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
	if seq == 0 {
		return all(ctx, s, standingMarks, markScanner(), int64(subject))
	}
	return all(ctx, s, marksKnown, markScanner(), int64(subject), seq)
}

// askedTogether is how many patients' marks are read by one statement.
const askedTogether = 200

// MarksOf calls f with the marks of each patient, in the order given, as one
// moment of the record has them.
func (s *Store) MarksOf(ctx context.Context, subjects []line.Key, seq int64, f func(line.Key, []line.Mark) error) error {
	snap, err := s.snapshot(ctx)
	if err != nil {
		return err
	}
	defer snap.done()
	read := markScanner()
	most := 0
	for some := range slices.Chunk(subjects, askedTogether) {
		marks := make([]line.Mark, 0, most)
		st, args := standingMarksOf, []any{keyList(some)}
		if seq != 0 {
			st, args = marksKnownOf, append(args, seq)
		}
		err := each(ctx, snap, st, func(row scan) error {
			m, err := read(row)
			marks = append(marks, m)
			return err
		}, args...)
		if err != nil {
			return err
		}
		most = max(most, len(marks))
		slices.SortStableFunc(marks, bySubject) // they come so, but nothing promises it
		for _, subject := range some {
			from, _ := slices.BinarySearchFunc(marks, subject, func(m line.Mark, k line.Key) int { return cmp.Compare(m.Subject, k) })
			until := from
			for until < len(marks) && marks[until].Subject == subject {
				until++
			}
			if err := f(subject, marks[from:until:until]); err != nil {
				return err
			}
		}
	}
	return nil
}

func bySubject(a, b line.Mark) int { return cmp.Compare(a.Subject, b.Subject) }

// keyList is keys as a statement takes many: a JSON array.
func keyList(keys []line.Key) string {
	list := []byte{'['}
	for i, key := range keys {
		if i > 0 {
			list = append(list, ',')
		}
		list = strconv.AppendInt(list, int64(key), 10)
	}
	return string(append(list, ']'))
}

// Candidates gives the patients who may have had a line in, or an occasion, in
// the stretch, as any version of the record told, and all who have a line in
// now that was placed before the end. It is a superset: the audit decides. It
// holds for what was known at the moment asked about or later, not for what an
// earlier record would have said of a moment then still to come. An empty
// stretch is one moment.
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
	standingMarksOf = stated(reading, "read many patients' marks", "SELECT "+markColumns+` FROM mark
		WHERE subject IN (SELECT value FROM json_each(?1)) AND gone = 0`)
	marksKnownOf = stated(reading, "read many patients' marks as known then", "SELECT "+markColumns+` FROM mark
		WHERE subject IN (SELECT value FROM json_each(?1)) AND known <= ?2 AND (gone = 0 OR gone > ?2)`)
	candidates = stated(reading, "find patients by days", `
		SELECT subject FROM span WHERE day BETWEEN ?1 AND ?2
		UNION SELECT subject FROM span WHERE day = -1
		UNION SELECT subject FROM line INDEXED BY line_open WHERE out IS NULL AND first < ?3
		ORDER BY 1`)
)
