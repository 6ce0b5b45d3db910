package store

import (
	"slices"

	"dwellbook/internal/line"
)

// dossier is a patient's marks, of all versions, while entries are taken:
// before any of them and after, and what they touched.
type dossier struct {
	key    line.Key
	before []line.Mark
	marks  []line.Mark
	lines  map[line.Key]bool // touched
	moved  bool              // the stays were touched, and so may be every line's ward
	erased bool
	row    patientRow // as on disk
	known  bool       // there is a row on disk

	past, present *line.Subject // folded when first asked for
}

// patientRow is a row of patient.
type patientRow struct {
	reference      string
	ward, lastWard line.Key
	bed            string
	admitted       line.Minute
	open           int
	erased         bool
}

// dossier is a patient's, read when first asked for.
func (r *recording) dossier(key line.Key) (*dossier, error) {
	if d := r.dossiers[key]; d != nil {
		return d, r.failed
	}
	d := &dossier{key: key, lines: map[line.Key]bool{}}
	var err error
	if d.before, err = all(background, r.w, allMarks, markScanner(), int64(key)); err != nil {
		return nil, err
	}
	d.marks = slices.Clone(d.before)
	d.row, d.known, err = one(background, r.w, patientOf, scanPatientRow, int64(key))
	if err != nil {
		return nil, err
	}
	d.erased = d.row.erased
	r.dossiers[key] = d
	r.change.subject(key)
	r.change.ward(d.row.ward)
	r.change.ward(d.row.lastWard)
	return d, r.failed
}

// was is the history before.
func (d *dossier) was() *line.Subject {
	if d.past == nil {
		folded := line.Fold(standing(d.before))
		d.past = &folded
	}
	return d.past
}

// is is the history once all entries are in.
func (d *dossier) is() *line.Subject {
	if d.present == nil {
		folded := line.Fold(standing(d.marks))
		d.present = &folded
	}
	return d.present
}

// touch notes what must be worked out anew because a mark came or went.
func (d *dossier) touch(m line.Mark) {
	if m.Line != 0 {
		d.lines[m.Line] = true
	}
	switch m.Kind {
	case line.KindAdmission, line.KindTransfer, line.KindDischarge:
		d.moved = true
	}
}

// standing gives the marks that nothing has replaced or withdrawn.
func standing(marks []line.Mark) []line.Mark {
	stand := make([]line.Mark, 0, len(marks))
	for _, m := range marks {
		if m.Gone == 0 {
			stand = append(stand, m)
		}
	}
	return stand
}

// settle writes the difference between what follows from the patient's marks
// before and after.
func (r *recording) settle(d *dossier) error {
	if len(d.lines) == 0 && !d.moved && d.known {
		return nil
	}
	touched := d.lines
	if d.moved {
		touched = nil // all
	}
	var before, after derived
	if d.known {
		before = derive(d.was(), d.before, touched, r.recordedAt)
	}
	after = derive(d.is(), d.marks, touched, r.recordedAt)
	if err := r.settleLines(d, before, after); err != nil {
		return err
	}
	for root, ward := range after.wards {
		if was, ok := before.wards[root]; r.fresh[root] || !ok || was != ward {
			if err := r.w.exec(placeAttempts, int64(ward), root); err != nil {
				return err
			}
		}
	}
	return r.settlePatient(d, after)
}

// settleLines writes what differs of the lines and of their days.
func (r *recording) settleLines(d *dossier, before, after derived) error {
	for key := range before.lines {
		if _, ok := after.lines[key]; !ok {
			if err := r.w.exec(deleteLine, int64(d.key), int64(key)); err != nil {
				return err
			}
		}
	}
	for key, l := range after.lines {
		if was, ok := before.lines[key]; ok && was == l {
			continue
		}
		var out any
		if l.out != line.Far {
			out = int64(l.out)
		}
		if err := r.w.exec(insertLine, int64(d.key), int64(key), int64(l.outcome), int64(l.site), int64(l.side), int64(l.gauge),
			int64(l.placed), int64(l.precision), int64(l.ward), out, int64(l.reason), int64(l.first),
			int64(l.placedIn), int64(l.asepsis), int64(l.infection)); err != nil {
			return err
		}
	}
	for s := range before.spans {
		if _, ok := after.spans[s]; !ok {
			if err := r.w.exec(deleteSpan, s.day, int64(s.ward), int64(s.line), int64(d.key)); err != nil {
				return err
			}
		}
	}
	for s := range after.spans {
		if _, ok := before.spans[s]; !ok {
			if err := r.w.exec(insertSpan, s.day, int64(s.ward), int64(s.line), int64(d.key)); err != nil {
				return err
			}
		}
	}
	return nil
}

// settlePatient writes where the patient is, if that differs. Reference and bed
// stand in no mark: they are those of the latest admission that has one, and of
// the last move.
func (r *recording) settlePatient(d *dossier, now derived) error {
	row := d.row
	row.open, row.erased = now.open, d.erased
	if d.moved || !d.known {
		row.ward, row.lastWard, row.admitted = now.ward, now.lastWard, now.admitted
		row.reference, row.bed = "", ""
		for _, root := range now.admissions {
			text, err := r.stayText(root)
			if err != nil {
				return err
			}
			if text.reference != "" {
				row.reference = text.reference
				break
			}
		}
		if now.ward != 0 {
			text, err := r.stayText(now.lastMove)
			if err != nil {
				return err
			}
			row.bed = text.bed
		}
	}
	if d.known && row == d.row {
		return nil
	}
	r.change.ward(row.ward)
	r.change.ward(row.lastWard)
	return r.w.exec(insertPatient, int64(d.key), row.reference, int64(row.ward), int64(row.lastWard), row.bed,
		int64(row.admitted), row.open, row.erased)
}

type stayText struct{ reference, bed string }

func (r *recording) stayText(root int64) (stayText, error) {
	text, _, err := one(background, r.w, stayTextOf, func(row scan) (stayText, error) {
		var t stayText
		return t, row(&t.reference, &t.bed)
	}, root)
	return text, err
}

func scanPatientRow(row scan) (patientRow, error) {
	var p patientRow
	return p, row(&p.reference, &p.ward, &p.lastWard, &p.bed, &p.admitted, &p.open, &p.erased)
}

var (
	allMarks  = stated(reading, "read every version of a patient's marks", "SELECT "+markColumns+" FROM mark WHERE subject = ?")
	patientOf = stated(reading, "read where a patient is",
		"SELECT reference, ward, last_ward, bed, admitted, open, erased FROM patient WHERE subject = ?")
	insertPatient = stated(writing, "write where a patient is", `INSERT OR REPLACE INTO patient
		(subject, reference, ward, last_ward, bed, admitted, open, erased) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`)
	stayTextOf = stated(reading, "read a reference and bed", "SELECT reference, bed FROM stay_text WHERE root = ?")
	insertLine = stated(writing, "write how a line stands", `INSERT OR REPLACE INTO line
		(subject, line, outcome, site, side, gauge, placed, precision, ward, out, reason, first, placed_ward, asepsis, infection)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	deleteLine = stated(writing, "delete how a line stands", "DELETE FROM line WHERE subject = ? AND line = ?")
	insertSpan = stated(writing, "insert a day of a line", "INSERT OR IGNORE INTO span (day, ward, line, subject) VALUES (?, ?, ?, ?)")
	deleteSpan = stated(writing, "delete a day of a line", "DELETE FROM span WHERE day = ? AND ward = ? AND line = ? AND subject = ?")
)
