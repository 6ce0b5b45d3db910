package store

import (
	"dwellbook/internal/line"
)

// home is the patient a line is of: by the occasion it came of. Entries about
// the line follow it when the occasion is corrected to another patient.
type home struct {
	subject line.Key
	root    int64             // of the occasion
	former  map[line.Key]bool // patients it was of before
}

// homeOf is the patient whose history an entry is in: the one it names, unless
// it is about a line that has moved on from there.
func (r *recording) homeOf(e line.Entry) (*dossier, error) {
	subject := r.SubjectKey(e.Subject)
	if e.Line != "" && e.Kind != line.KindOccasion {
		h, err := r.home(r.LineKey(e.Line))
		if err != nil {
			return nil, err
		}
		if h != nil && h.former[subject] {
			subject = h.subject
		}
	}
	return r.dossier(subject)
}

// home reads whose a line is; nil: no occasion of it was recorded.
func (r *recording) home(key line.Key) (*home, error) {
	if h, ok := r.homes[key]; ok {
		return h, nil
	}
	var h *home
	err := each(background, r.w, homeOfLine, func(row scan) error {
		if h == nil {
			h = &home{former: map[line.Key]bool{}}
		}
		var former line.Key
		err := row(&h.subject, &h.root, &former)
		if former != 0 {
			h.former[former] = true
		}
		return err
	}, int64(key))
	r.homes[key] = h
	return h, err
}

// settleHome notes whose a line is when an occasion comes to stand, and moves
// the entries about it along where that has changed.
func (r *recording) settleHome(e line.Entry, known int64, root *rootEntry) error {
	key, subject := r.LineKey(e.Line), r.SubjectKey(e.Subject)
	h, err := r.home(key)
	if err != nil {
		return err
	}
	switch {
	case h == nil:
		h = &home{former: map[line.Key]bool{}}
		r.homes[key] = h
	case h.root != root.seq:
		owned, err := r.owned(key, h)
		if err != nil || owned {
			return err // a second placement of the line: judged at the end
		}
	case h.subject == subject:
		return nil
	}
	if h.subject != 0 && h.subject != subject {
		if err := r.follow(key, h.subject, subject, known); err != nil {
			return err
		}
		h.former[h.subject] = true
		if err := r.w.exec(insertFormerHome, int64(key), int64(h.subject)); err != nil {
			return err
		}
	}
	delete(h.former, subject)
	if err := r.w.exec(deleteFormerHome, int64(key), int64(subject)); err != nil {
		return err
	}
	h.subject, h.root = subject, root.seq
	return r.w.exec(setHome, int64(key), int64(subject), root.seq)
}

// owned reports whether the occasion that a line came of still stands.
func (r *recording) owned(key line.Key, h *home) (bool, error) {
	d, err := r.dossier(h.subject)
	if err != nil {
		return false, err
	}
	for _, m := range d.marks {
		if m.Line == key && m.Seq == h.root && m.Gone == 0 {
			return true, nil
		}
	}
	return false, nil
}

// follow moves what stands about a line, but for its occasion and for
// discharges, to another patient's marks and history.
func (r *recording) follow(key, from, to line.Key, known int64) error {
	old, err := r.dossier(from)
	if err != nil {
		return err
	}
	next, err := r.dossier(to)
	if err != nil {
		return err
	}
	moved := map[int64]bool{}
	for i := range old.marks {
		m := old.marks[i]
		if m.Line != key || m.Gone != 0 || m.Kind == line.KindOccasion || m.Kind == line.KindDischarge {
			continue
		}
		if err := r.end(old, &old.marks[i], known); err != nil {
			return err
		}
		m.Subject, m.Known = to, known
		if err := r.addMark(next, m); err != nil {
			return err
		}
		moved[m.Seq] = true
	}
	for root := range moved {
		later, err := all(background, r.w, laterVersions, scanStored, root, known)
		if err != nil {
			return err
		}
		seqs := []int64{root}
		for _, v := range later {
			seqs = append(seqs, v.seq)
		}
		if err := r.moveHistory(from, to, seqs); err != nil {
			return err
		}
	}
	return nil
}

var (
	homeOfLine = stated(reading, "find a line's patients, now and before", `SELECT h.subject, h.root, coalesce(f.subject, 0)
		FROM home h LEFT JOIN former_home f ON f.line = h.line WHERE h.line = ?`)
	setHome          = stated(writing, "set a line's patient", "INSERT OR REPLACE INTO home (line, subject, root) VALUES (?, ?, ?)")
	insertFormerHome = stated(writing, "note a line's former patient", "INSERT OR IGNORE INTO former_home (line, subject) VALUES (?, ?)")
	deleteFormerHome = stated(writing, "drop a line's former patient", "DELETE FROM former_home WHERE line = ? AND subject = ?")
)
