package demo_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
	"dwellbook/internal/demo"
	"dwellbook/internal/line"
)

// world is an invented hospital as a database reads it.
type world struct {
	now      line.Minute
	entries  []line.Entry
	book     *audit.Rulebook
	subjects map[line.ID]line.Key
	lines    map[line.ID]line.Key
	wards    map[line.ID]line.Key
	ward     map[string]line.Key // by name
	marks    map[line.ID][]line.Mark
	known    map[line.ID][]int64 // the sequence numbers of each patient's entries
}

func number(m map[line.ID]line.Key, id line.ID) line.Key {
	if m[id] == 0 {
		m[id] = line.Key(len(m) + 1)
	}
	return m[id]
}

func (w *world) SubjectKey(id line.ID) line.Key { return number(w.subjects, id) }
func (w *world) LineKey(id line.ID) line.Key    { return number(w.lines, id) }
func (w *world) WardKey(id line.ID) line.Key    { return number(w.wards, id) }

func read(t *testing.T, o demo.Options) *world {
	t.Helper()
	h, err := demo.Generate(o)
	require.NoError(t, err)
	w := &world{
		now: line.MinuteOf(o.Now), entries: h.Entries, ward: map[string]line.Key{}, marks: map[line.ID][]line.Mark{}, known: map[line.ID][]int64{},
		subjects: map[line.ID]line.Key{}, lines: map[line.ID]line.Key{}, wards: map[line.ID]line.Key{},
	}
	var changes []audit.Change
	root := map[line.ID]int64{}
	for n, e := range h.Entries {
		seq := int64(n + 1)
		root[e.ID] = seq
		w.known[e.Subject] = append(w.known[e.Subject], seq)
		switch b := e.Body.(type) {
		case line.Policy:
			p, err := audit.ParsePolicy("", []byte(b.TOML))
			require.NoError(t, err)
			changes = append(changes, audit.Change{From: e.Happened, Known: seq, Policy: p})
		case line.Ward:
			zone, err := time.LoadLocation(b.Zone)
			require.NoError(t, err)
			w.ward[b.Name] = w.WardKey(b.Ward)
			changes = append(changes, audit.Change{From: e.Happened, Known: seq, Ward: w.WardKey(b.Ward), Values: audit.WardValues{
				Zone: zone, Shifts: b.Shifts, Every: time.Duration(b.Every) * time.Minute,
			}})
		case line.Correction:
			w.replace(t, e.Subject, root[b.Root], seq)
			w.add(b.Replacement, root[b.Root], seq)
		case line.Void:
			w.replace(t, e.Subject, root[b.Root], seq)
		default:
			w.add(e, seq, seq)
		}
	}
	delete(w.known, "")
	w.book = audit.NewRulebook(changes)
	return w
}

func (w *world) add(e line.Entry, root, known int64) {
	if e.Subject != "" {
		w.marks[e.Subject] = append(w.marks[e.Subject], line.Marks(e, w, root, known)...)
	}
}

func (w *world) replace(t *testing.T, subject line.ID, root, by int64) {
	found := false
	for i, m := range w.marks[subject] {
		if m.Seq == root && m.Gone == 0 {
			w.marks[subject][i].Gone, found = by, true
		}
	}
	require.True(t, found, "#%d corrects something that was recorded before", by)
}

// standing are the marks of a patient that stand now.
func (w *world) standing(id line.ID) []line.Mark {
	var marks []line.Mark
	for _, m := range w.marks[id] {
		if m.Gone == 0 {
			marks = append(marks, m)
		}
	}
	return marks
}

// assess judges every patient at a moment.
func (w *world) assess(at line.Minute) []audit.Assessment {
	var all []audit.Assessment
	for id := range w.marks {
		all = append(all, audit.Assess(w.book, w.standing(id), at))
	}
	return all
}
