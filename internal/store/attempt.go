package store

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"dwellbook/internal/line"
)

// enterAttempts writes the attempts of an occasion, by operator. Where only
// their number is known, the last is the operator's and the others nobody's.
// An occasion that stopped before skin has a row of number 0, of the operator,
// else of who recorded it.
func (r *recording) enterAttempts(e line.Entry, o line.Occasion, root *rootEntry) error {
	r.fresh[root.seq] = true
	enter := func(no, total int, a line.Attempt) error {
		if a.Operator == (line.Operator{}) {
			return nil
		}
		return r.w.exec(insertAttempt, root.seq, no, total, int64(r.LineKey(e.Line)), string(a.Operator.Account),
			asWritten(bare(a.Operator.Written)), string(root.by), int64(e.Happened), int64(e.Precision), int64(o.Outcome),
			int64(a.Site), int64(a.Side), int64(a.Gauge), a.Failed, int64(a.Fault), 0, int64(a.Difficulty),
			o.Supervisor != (line.Operator{}) && o.Supervisor != a.Operator, string(o.Supervisor.Account), string(root.version))
	}
	only := line.Attempt{Operator: o.Operator, Site: o.Site, Side: o.Side, Gauge: o.Gauge, Failed: o.Outcome != line.WithLine}
	switch {
	case o.Outcome == line.BeforeSkin:
		if only.Operator == (line.Operator{}) {
			only.Operator.Account = root.author
		}
		return enter(0, 0, only)
	case len(o.Attempts) == 0:
		return enter(max(o.Count, 1), o.Count, only)
	}
	for i, a := range o.Attempts {
		if a.Operator == (line.Operator{}) && i == len(o.Attempts)-1 {
			a.Operator = o.Operator
		}
		if err := enter(i+1, len(o.Attempts), a); err != nil {
			return err
		}
	}
	return nil
}

// asWritten is a name as it is compared: case and spacing do not matter.
func asWritten(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }

// Attempts gives a person's own attempts, oldest first: those recorded with
// the account as operator, and those under a name as written that the person
// has accepted as theirs; also those that do not count, or not yet. Of is 0,
// and No means nothing, where the number of attempts of the occasion is not known.
func (s *Store) Attempts(ctx context.Context, account line.ID) ([]line.Tried, error) {
	snap, err := s.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer snap.done()
	read := func(row scan) (line.Tried, error) { return tried(row, account) }
	list, err := all(ctx, snap, attemptsOf, read, string(account))
	if err != nil {
		return nil, err
	}
	more, err := all(ctx, snap, attemptsWritten, read, string(account))
	if err != nil {
		return nil, err
	}
	list = append(list, more...)
	slices.SortFunc(list, func(a, b line.Tried) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Occasion, b.Occasion), cmp.Compare(a.No, b.No))
	})
	return list, nil
}

// tried reads one attempt; more is what the statement gives before its columns.
func tried(row scan, account line.ID, more ...any) (t line.Tried, err error) {
	err = row(append(more, &t.Occasion, &t.LineID, &t.At, &t.Precision, &t.No, &t.Of, &t.Site, &t.Side, &t.Gauge, &t.Failed,
		&t.Fault, &t.Outcome, &t.Ward, &t.Author, &t.Difficulty, &t.Supervised, &t.Supervisor, &t.Version, &t.Agreed)...)
	t.ByOther = t.Author != account
	t.Assessed = t.Difficulty != 0
	t.Difficulty &^= line.SetOf(line.NotDifficult)
	return t, err
}

// EveryAttempt calls f with every attempt of the stretch and its operator, in no
// order: an account, also of a name as written that the person has accepted as
// theirs, else that name in lower case.
func (s *Store) EveryAttempt(ctx context.Context, in line.Stretch, f func(line.Operator, line.Tried)) error {
	return each(ctx, s, attemptsIn, func(row scan) error {
		var account line.ID
		var written string
		t, err := tried(row, "", &account, &written)
		t.ByOther = t.Author != account
		operator := line.Operator{Account: account}
		if account == "" {
			operator.Written = line.Text(written)
		}
		f(operator, t)
		return err
	}, int64(in.From), int64(in.Until))
}

// Stopped counts the occasions of a person that stopped before skin.
func (s *Store) Stopped(ctx context.Context, account line.ID) (int, error) {
	n, _, err := one(ctx, s, stoppedOf, value[int], string(account), int64(line.BeforeSkin))
	return n, err
}

const operatorColumn = "coalesce(nullif(a.account, ''), n.account, '')"

const triedColumns = `a.line, k.id, a.happened, a.precision, a.no, a.total, a.site, a.side, a.gauge, a.failed,
	a.fault, a.outcome, a.ward, a.author, a.difficulty, a.supervised, a.supervisor, a.version`

// agreedBy is the column of what the account said to an attempt.
func agreedBy(account string) string {
	return ", coalesce((SELECT g.agreed FROM agreement g WHERE g.version = a.version AND g.account = " + account + "), 0)"
}

var (
	insertAttempt = stated(writing, "insert an attempt", `INSERT INTO attempt
		(root, no, total, line, account, written, author, happened, precision, outcome, site, side, gauge, failed, fault, ward,
		difficulty, supervised, supervisor, version)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	deleteAttempts = stated(writing, "delete an occasion's attempts", "DELETE FROM attempt WHERE root = ?")
	placeAttempts  = stated(writing, "note the ward of attempts", "UPDATE attempt SET ward = ? WHERE root = ?")
	attemptsOf     = stated(reading, "read an account's attempts", "SELECT "+triedColumns+agreedBy("?1")+` FROM attempt a
		JOIN line_key k ON k.key = a.line WHERE a.account = ?1 AND a.account <> '' AND a.no > 0`)
	attemptsWritten = stated(reading, "read the attempts under an account's names", "SELECT "+triedColumns+agreedBy("?1")+` FROM accepted_name n
		CROSS JOIN attempt a CROSS JOIN line_key k
		WHERE n.account = ?1 AND a.written = n.written AND a.written <> '' AND a.account = '' AND a.no > 0 AND k.key = a.line`)
	attemptsIn = stated(whole, "read every attempt", "SELECT "+operatorColumn+", a.written, "+triedColumns+agreedBy(operatorColumn)+`
		FROM attempt a JOIN line_key k ON k.key = a.line LEFT JOIN accepted_name n ON a.account = '' AND a.written <> '' AND n.written = a.written
		WHERE a.no > 0 AND a.happened >= ?1 AND a.happened < ?2`)
	stoppedOf = stated(reading, "count an account's stopped occasions", `SELECT
		(SELECT count(*) FROM attempt WHERE account = ?1 AND account <> '' AND outcome = ?2) +
		(SELECT count(*) FROM accepted_name n CROSS JOIN attempt a
			WHERE n.account = ?1 AND a.written = n.written AND a.written <> '' AND a.account = '' AND a.outcome = ?2)`)
)
