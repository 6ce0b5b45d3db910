package app

import (
	"errors"
	"maps"
	"slices"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/interop"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// storeRows stores the rows patient by patient; what the record refuses becomes bad rows.
func (im *sheetImport) storeRows(sheet *interop.Sheet) error {
	stored := map[line.ID]bool{}
	for _, r := range sheet.Rows {
		if stored[r.Subject] {
			continue
		}
		stored[r.Subject] = true
		if err := im.patient(sheet, r.Subject); err != nil {
			return err
		}
	}
	slices.SortFunc(sheet.Bad, func(a, b interop.BadRow) int { return a.Number - b.Number })
	return nil
}

// patient stores what is new of one patient: all of it at once, so that a
// refusal changes nothing; then again without the rows that were refused.
func (im *sheetImport) patient(sheet *interop.Sheet, subject line.ID) error {
	for rows := sheet.Of(subject); len(rows) > 0; rows = sheet.Of(subject) {
		b, err := im.batchOf(sheet, subject, rows)
		if err != nil {
			return err
		}
		if len(b.elsewhere) > 0 {
			im.leaveElsewhere(sheet, b.elsewhere)
			continue
		}
		if len(b.entries) > 0 {
			_, err = im.store.Append(im.ctx, line.Batch{Entries: b.entries})
		}
		var f *fault.Error
		switch {
		case err == nil:
			im.result.Rows += len(rows)
			im.result.New += b.fresh
			im.result.Same += b.same
			im.result.Corrected += len(b.entries) - b.fresh
			im.result.Changed = append(im.result.Changed, b.changed...)
			return nil
		case !errors.As(err, &f) || f.Kind != fault.Invalid && f.Kind != fault.Conflict:
			return err
		}
		refuse(sheet, rows, f)
	}
	return nil
}

// batch is what is to be stored of one patient's rows.
type batch struct {
	entries     []line.Entry
	fresh, same int
	changed     []string      // in words
	elsewhere   []interop.Row // whose line the record has in another patient
}

func (im *sheetImport) batchOf(sheet *interop.Sheet, subject line.ID, rows []interop.Row) (batch, error) {
	var b batch
	entries, err := im.entriesOf(sheet, subject, rows)
	if err != nil {
		return b, err
	}
	rowOf := map[line.ID]interop.Row{}
	for _, r := range rows {
		for _, e := range r.Entries {
			rowOf[e.ID] = r
		}
	}
	for _, e := range entries {
		latest, seen, err := im.desk.Latest(im.ctx, desk.System(), e.ID)
		row := rowOf[e.ID]
		switch {
		case fault.Is(err, fault.NotFound):
			b.entries = append(b.entries, e)
			b.fresh++
		case fault.Is(err, fault.Conflict): // withdrawn since: the record knows better
			b.same++
		case err != nil:
			return b, err
		case !interop.Changed(latest, e):
			b.same++
		case im.Correct:
			b.entries = append(b.entries, interop.Correction(latest, seen, e, line.Text("imported from "+im.Source)))
		case latest.Subject != e.Subject:
			b.elsewhere = append(b.elsewhere, row)
		default:
			b.changed = append(b.changed, words.Say(im.ctx, "import.changed", "number", row.Number, "line_id", row.LineID, "kind", e.Kind))
		}
	}
	return b, nil
}

// leaveElsewhere leaves out rows that give a line to another patient than the
// record does. Until somebody has said whose it is, nothing of such a row can
// be told to be true, not even that the patient was on the ward.
func (im *sheetImport) leaveElsewhere(sheet *interop.Sheet, rows []interop.Row) {
	left := map[int]bool{}
	for _, r := range rows {
		if left[r.Number] {
			continue
		}
		left[r.Number] = true
		im.result.Changed = append(im.result.Changed, words.Say(im.ctx, "import.elsewhere", "number", r.Number, "line_id", r.LineID))
		sheet.Leave(r)
	}
}

// refuse makes bad rows of what the record refused: of the row its answer is
// about, or, where that cannot be told, of all of the patient's.
func refuse(sheet *interop.Sheet, rows []interop.Row, f *fault.Error) {
	allowed := line.Say("import.allow.record")
	refused := rows
	if row, ok := about(rows, f); ok {
		refused = []interop.Row{row}
	} else if len(rows) > 1 {
		allowed = line.Say("import.allow.record-all")
	}
	problems := []interop.Problem{{What: line.Say(f.Key, f.Args...), Allowed: allowed}}
	if len(f.Fields) > 0 {
		problems = nil
		for _, field := range slices.Sorted(maps.Keys(f.Fields)) {
			m := f.Fields[field]
			problems = append(problems, interop.Problem{Column: field, What: line.Say(m.Key, m.Args...), Allowed: allowed})
		}
	}
	for _, r := range refused {
		sheet.Bad = append(sheet.Bad, interop.BadRow{Number: r.Number, Text: r.Text, Problems: problems})
		sheet.Leave(r)
	}
}

// about finds the row that a refusal is about: by the line or entry it names,
// or, of an entry of the patient and no line, by its kind and moment.
func about(rows []interop.Row, f *fault.Error) (interop.Row, bool) {
	named := map[any]any{}
	for i := 0; i+1 < len(f.Args); i += 2 {
		named[f.Args[i]] = f.Args[i+1]
	}
	for _, r := range rows {
		for _, e := range r.Entries {
			switch {
			case named["line"] == string(e.Line), named["id"] == string(e.ID):
				return r, true
			case named["line"] == nil && named["kind"] == e.Kind && named["happened"] == e.Happened:
				return r, true
			}
		}
	}
	return interop.Row{}, false
}

// entriesOf are the patient's entries; of one the record knows, only the moves
// that are new.
func (im *sheetImport) entriesOf(sheet *interop.Sheet, subject line.ID, rows []interop.Row) ([]line.Entry, error) {
	var entries []line.Entry
	known, err := im.store.Patient(im.ctx, subject)
	if err != nil && !fault.Is(err, fault.NotFound) {
		return nil, err
	}
	if err == nil {
		marks, err := im.store.Marks(im.ctx, known.Key, 0)
		if err != nil {
			return nil, err
		}
		entries = sheet.Moves(subject, im.standing(line.Fold(marks)))
	}
	for _, r := range rows {
		for _, e := range r.Entries {
			if known.Key == 0 || !interop.IsMove(e.Kind) {
				entries = append(entries, e)
			}
		}
	}
	return entries, nil
}

func (im *sheetImport) standing(history line.Subject) interop.Standing {
	var s interop.Standing
	if n := len(history.Stays); n > 0 {
		last := history.Stays[n-1]
		if last.Until != line.Far {
			return interop.Standing{Since: last.Until}
		}
		s = interop.Standing{Ward: im.house.WardByKey(last.Ward).Ward.Ward, Since: last.From}
	}
	return s
}
