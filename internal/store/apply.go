package store

import (
	"strings"

	"dwellbook/internal/line"
)

// apply makes an entry count: it changes the marks in memory and on disk, and
// the tables kept entry by entry. What follows from a patient's marks as a
// whole is written by settle.
func (r *recording) apply(e line.Entry, seq int64, root *rootEntry) error {
	if houseKind(root.kind) {
		return r.applyHouse(e, seq, root)
	}
	switch b := e.Body.(type) {
	case line.Correction:
		if err := r.withdraw(root, seq); err != nil {
			return err
		}
		return r.stand(b.Replacement, seq, root)
	case line.Void:
		return r.withdraw(root, seq)
	}
	return r.stand(e, seq, root)
}

// houseKind reports whether entries of the kind are the house's own.
func houseKind(k line.Kind) bool { return k >= line.KindPolicy }

// withdraw ends what stood of a root.
func (r *recording) withdraw(root *rootEntry, known int64) error {
	if root.was == nil {
		return nil
	}
	d, err := r.homeOf(*root.was)
	if err != nil {
		return err
	}
	for i := range d.marks {
		if m := &d.marks[i]; m.Seq == root.seq && m.Gone == 0 {
			if err := r.end(d, m, known); err != nil {
				return err
			}
		}
	}
	switch root.kind {
	case line.KindAdmission, line.KindTransfer:
		err = r.w.exec(deleteStayText, root.seq)
	case line.KindOccasion:
		err = r.w.exec(deleteAttempts, root.seq)
	}
	if err != nil {
		return err
	}
	return r.w.exec(insertHistory, int64(d.key), known, false)
}

// end notes what replaced or withdrew a mark. The row stays: it was known once.
func (r *recording) end(d *dossier, m *line.Mark, known int64) error {
	m.Gone = known
	d.touch(*m)
	return r.w.exec(endMark, known, int64(m.Subject), int64(m.Line), int64(m.At), m.Seq, m.Known, m.Part)
}

// stand makes a version of an entry stand, in the place of its root.
func (r *recording) stand(e line.Entry, known int64, root *rootEntry) error {
	if e.Kind == line.KindOccasion {
		if err := r.settleHome(e, known, root); err != nil {
			return err
		}
	}
	d, err := r.homeOf(e)
	if err != nil {
		return err
	}
	for _, m := range line.Marks(e, r, root.seq, known) {
		m.Subject = d.key
		if err := r.addMark(d, m); err != nil {
			return err
		}
	}
	if err := r.enterHistory(d, e, known, root); err != nil {
		return err
	}
	switch b := e.Body.(type) {
	case line.Admission:
		return r.w.exec(insertStayText, root.seq, strings.TrimSpace(bare(b.Reference)), bare(b.Bed))
	case line.Transfer:
		return r.w.exec(insertStayText, root.seq, "", bare(b.Bed))
	case line.Occasion:
		return r.enterAttempts(e, b, root)
	case line.Erasure:
		return r.erase(d, known)
	}
	return r.failed
}

// addMark adds a mark to a patient's, in memory and on disk.
func (r *recording) addMark(d *dossier, m line.Mark) error {
	a, b, c := m.Pack()
	d.marks = append(d.marks, m)
	d.touch(m)
	return r.w.exec(insertMark, int64(m.Subject), int64(m.Line), int64(m.At), m.Seq, m.Known, m.Part, m.Gone,
		int64(m.Kind), int64(m.Precision), int64(m.Ward), int64(m.Until), a, b, c)
}

// enterHistory notes that the version belongs to the patient's history, and,
// where it came from another patient, the versions before with it.
func (r *recording) enterHistory(d *dossier, e line.Entry, known int64, root *rootEntry) error {
	if err := r.w.exec(insertHistory, int64(d.key), known, false); err != nil {
		return err
	}
	if named := r.SubjectKey(e.Subject); named != d.key {
		// It followed its line: the patient it names has it as moved away.
		if err := r.w.exec(insertHistory, int64(named), known, true); err != nil {
			return err
		}
	}
	if root.last == nil {
		return nil
	}
	from, err := r.homeOf(*root.last)
	if err != nil || from.key == d.key {
		return err
	}
	return r.moveHistory(from.key, d.key, append(root.seqs, known))
}

// moveHistory shows the versions in the history they move to, and as moved
// away in the one they leave.
func (r *recording) moveHistory(from, to line.Key, seqs []int64) error {
	for _, seq := range seqs {
		if err := r.w.exec(setHistory, int64(from), seq, true); err != nil {
			return err
		}
		if err := r.w.exec(setHistory, int64(to), seq, false); err != nil {
			return err
		}
	}
	return nil
}

// erase deletes the texts of what the patient's history held before.
func (r *recording) erase(d *dossier, known int64) error {
	for _, st := range []*statement{eraseTexts, eraseStayTexts, eraseWritten} {
		if err := r.w.exec(st, int64(d.key), known); err != nil {
			return err
		}
	}
	d.erased, d.moved = true, true
	return nil
}

var (
	insertMark = stated(writing, "insert a mark", `INSERT INTO mark
		(subject, line, happened, seq, known, part, gone, kind, precision, ward, until, a, b, c)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	endMark = stated(writing, "end a mark", `UPDATE mark SET gone = ?
		WHERE subject = ? AND line = ? AND happened = ? AND seq = ? AND known = ? AND part = ?`)
	insertHistory  = stated(writing, "enter a history", "INSERT OR IGNORE INTO history (subject, seq, away) VALUES (?, ?, ?)")
	setHistory     = stated(writing, "move a history", "INSERT OR REPLACE INTO history (subject, seq, away) VALUES (?, ?, ?)")
	insertStayText = stated(writing, "insert a reference and bed", "INSERT OR REPLACE INTO stay_text (root, reference, bed) VALUES (?, ?, ?)")
	deleteStayText = stated(writing, "delete a reference and bed", "DELETE FROM stay_text WHERE root = ?")
	eraseTexts     = stated(writing, "erase texts",
		"DELETE FROM text WHERE entry IN (SELECT seq FROM history WHERE subject = ? AND away = 0 AND seq < ?)")
	eraseStayTexts = stated(writing, "erase references and beds",
		"UPDATE stay_text SET reference = '', bed = '' WHERE root IN (SELECT seq FROM history WHERE subject = ? AND away = 0 AND seq < ?)")
	eraseWritten = stated(writing, "erase names as written",
		"UPDATE attempt SET written = '' WHERE root IN (SELECT seq FROM history WHERE subject = ? AND away = 0 AND seq < ?)")
)
