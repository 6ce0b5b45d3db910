package store

import (
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// contradiction is an entry that cannot be true with the rest, and the key of
// the sentence that says what to do.
type contradiction struct {
	mark line.Mark
	key  string
}

// refuse gives the error where the patient's marks contradict each other in a
// way they did not before.
func (r *recording) refuse(d *dossier) error {
	after := contradictions(d.is(), d.marks)
	if len(after) > 0 {
		known := map[[3]any]bool{}
		for _, c := range contradictions(d.was(), d.before) {
			known[c.id()] = true
		}
		for _, c := range after {
			if !known[c.id()] {
				return r.contradicts(c, d.is())
			}
		}
	}
	return r.secondHome(d)
}

// id names a contradiction, so that one which stood before is told from a new one.
func (c contradiction) id() [3]any { return [3]any{c.mark.Seq, c.mark.Part, c.key} }

// contradictions are those of the lines and of the stays.
func contradictions(history *line.Subject, marks []line.Mark) []contradiction {
	found := line.Contradictions(history, standing(marks))
	list := make([]contradiction, len(found))
	for i, c := range found {
		list[i] = contradiction{c.Mark, "store." + c.Word}
	}
	return list
}

// contradicts names the line and the moments, for the sentence.
func (r *recording) contradicts(c contradiction, history *line.Subject) error {
	args := []any{"kind", c.mark.Kind, "happened", c.mark.At}
	if c.mark.Line != 0 {
		id, _, err := one(background, r.w, lineKeys.name, value[string], int64(c.mark.Line))
		if err != nil {
			return err
		}
		args = append(args, "line", id)
	}
	if l := history.LineOf(c.mark.Line); l != nil {
		args = append(args, "placed", l.Placed)
		if l.Removal != nil {
			args = append(args, "removed", l.Removal.At)
		}
	}
	return fault.New(fault.Conflict, c.key, args...)
}

// secondHome refuses an occasion whose line another patient has.
func (r *recording) secondHome(d *dossier) error {
	for _, m := range d.marks {
		if m.Kind != line.KindOccasion || m.Gone != 0 || !d.lines[m.Line] {
			continue
		}
		h, err := r.home(m.Line)
		if err != nil {
			return err
		}
		if h == nil || h.subject == d.key {
			continue
		}
		return r.contradicts(contradiction{m, "store.second-placement"}, d.is())
	}
	return nil
}
