package store

import (
	"fmt"
	"time"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/proof"
)

// recording is one Append inside its savepoint: it stores entries one by one,
// keeps what they touch in memory, and writes what follows from them at the end.
type recording struct {
	w          *writer
	asRecorded bool
	seq        int64       // of the last entry
	recorded   time.Time   // of the last entry
	edge       *proof.Edge // of the tree with the last entry; nil until one is added
	tip        []byte      // the hashes kept for that
	times      map[int64]line.Minute
	keys       map[keyed]line.Key
	homes      map[line.Key]*home
	dossiers   map[line.Key]*dossier
	fresh      map[int64]bool   // roots whose attempts were written anew
	people     map[line.ID]bool // accounts to be made anew
	links      map[line.ID]bool // accounts whose accepted names are to be made anew
	answered   map[line.ID]bool // versions whose agreements are to be made anew
	shares     map[line.ID]bool // to be made anew
	change     change
	failed     error // the first error of looking up a key
}

// newRecording starts where the record ends now: another process may have added to it.
func newRecording(w *writer, asRecorded bool) (*recording, error) {
	r := &recording{
		w: w, asRecorded: asRecorded, times: map[int64]line.Minute{}, keys: map[keyed]line.Key{}, homes: map[line.Key]*home{},
		dossiers: map[line.Key]*dossier{}, fresh: map[int64]bool{}, people: map[line.ID]bool{}, links: map[line.ID]bool{},
		answered: map[line.ID]bool{}, shares: map[line.ID]bool{},
	}
	if w.last == nil {
		last, _, err := one(background, w, lastEntry, func(row scan) (lastRow, error) {
			var l lastRow
			return l, row(&l.seq, &l.recordedMS)
		})
		if err != nil {
			return nil, err
		}
		w.last = &last
	}
	r.seq, r.recorded = w.last.seq, time.UnixMilli(w.last.recordedMS).UTC()
	return r, nil
}

type lastRow struct{ seq, recordedMS int64 }

// take stores one entry and applies it to what is in memory.
func (r *recording) take(in *incoming) (line.Receipt, error) {
	e := &in.entry
	if receipt, again, err := r.before(in); again || err != nil {
		return receipt, err
	}
	now := r.w.now
	if r.seq > 0 && now.Before(r.recorded) {
		now = r.recorded
	}
	if !in.timed {
		in.stamp(now)
	}
	if err := check(*e, later(now, e.Recorded)); err != nil {
		return line.Receipt{}, err
	}
	seq := r.seq + 1
	root, err := r.rootOf(*e, seq)
	if err != nil {
		return line.Receipt{}, err
	}
	if err := r.insert(in, seq, root); err != nil {
		return line.Receipt{}, err
	}
	if seq == 1 || e.Recorded.Before(r.recorded) {
		if err := r.w.exec(insertEra, seq); err != nil {
			return line.Receipt{}, err
		}
	}
	r.seq, r.recorded = seq, e.Recorded
	if err := r.apply(*e, seq, root); err != nil {
		return line.Receipt{}, err
	}
	return line.Receipt{ID: e.ID, Seq: seq, Recorded: e.Recorded}, r.failed
}

// later is the later of two times.
func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// check refuses an entry that cannot be true by itself, with a message for
// each field; of two about one field the first is given.
func check(e line.Entry, now time.Time) error {
	problems := line.Check(e, line.MinuteOf(now))
	if len(problems) == 0 {
		return nil
	}
	fields := fault.Fields{}
	for _, p := range problems {
		if _, ok := fields[p.Field]; !ok {
			fields[p.Field] = fault.Message{Key: p.Message.Key, Args: p.Message.Args}
		}
	}
	return &fault.Error{Kind: fault.Invalid, Key: "fault.fields", Fields: fields}
}

// insert writes the entry and its texts.
func (r *recording) insert(in *incoming, seq int64, root *rootEntry) error {
	e := in.entry
	subject := line.Key(0)
	if e.Subject != "" {
		subject = r.SubjectKey(e.Subject)
	}
	leaf := proof.Leaf{
		ID: string(e.ID), Kind: int64(e.Kind), Subject: int64(subject), Root: root.seq, RecordedMS: e.Recorded.UnixMilli(),
		ReceivedMS: r.w.now.UnixMilli(), Format: int64(e.Version), Texts: distinct(in.texts), Canonical: in.canonical,
	}
	err := r.w.exec(insertEntry, seq, leaf.ID, leaf.Kind, leaf.Subject, leaf.Root, leaf.RecordedMS, leaf.ReceivedMS, leaf.Format, leaf.Texts, leaf.Canonical)
	if err != nil {
		return err
	}
	if err := r.grow(seq, leaf); err != nil {
		return err
	}
	for _, t := range in.texts {
		if err := r.w.exec(insertText, seq, t.Hash, t.Salt, t.Text); err != nil {
			return err
		}
	}
	r.times[seq] = line.MinuteOf(e.Recorded)
	return r.failed
}

// finish judges the whole and writes what follows from it.
func (r *recording) finish() (change, error) {
	if err := r.settleHouse(); err != nil {
		return change{}, err
	}
	if err := r.settleOwnRecords(); err != nil {
		return change{}, err
	}
	if !r.asRecorded {
		for _, d := range r.dossiers {
			if err := r.refuse(d); err != nil {
				return change{}, err
			}
		}
	}
	for _, d := range r.dossiers {
		if err := r.settle(d); err != nil {
			return change{}, fmt.Errorf("derive what stands of patient %d: %w", d.key, err)
		}
	}
	r.w.last = &lastRow{r.seq, r.recorded.UnixMilli()}
	if r.edge != nil {
		r.w.edge, r.w.tip = *r.edge, r.tip
	}
	return r.change, r.failed
}

// recordedAt is the minute at which an entry was recorded.
func (r *recording) recordedAt(seq int64) line.Minute {
	if at, ok := r.times[seq]; ok {
		return at
	}
	ms, _, err := one(background, r.w, recordedOf, value[int64], seq)
	if err != nil {
		r.failed = err
	}
	at := line.MinuteOf(time.UnixMilli(ms))
	r.times[seq] = at
	return at
}

// keyed is an id of one of the three kinds that have keys.
type keyed struct {
	of *keyTable
	id line.ID
}

type keyTable struct{ find, make, name *statement }

// SubjectKey, LineKey and WardKey give an id's key, made where it has none.
// They are line.Keys; an error is kept in r.failed.
func (r *recording) SubjectKey(id line.ID) line.Key { return r.key(&subjectKeys, id) }

// LineKey gives a line's or occasion's key.
func (r *recording) LineKey(id line.ID) line.Key { return r.key(&lineKeys, id) }

// WardKey gives a ward's key.
func (r *recording) WardKey(id line.ID) line.Key { return r.key(&wardKeys, id) }

// key looks in this job's keys, in those found before, then on disk, and makes one last.
func (r *recording) key(of *keyTable, id line.ID) line.Key {
	if key, ok := r.keys[keyed{of, id}]; ok {
		return key
	}
	if key, ok := r.w.keys[keyed{of, id}]; ok {
		return key
	}
	key, ok, err := one(background, r.w, of.find, value[int64], string(id))
	if err == nil && ok {
		r.w.remember(keyed{of, id}, line.Key(key))
	}
	if err == nil && !ok {
		key, _, err = one(background, r.w, of.make, value[int64], string(id))
	}
	if err != nil {
		r.failed = err
		return 0
	}
	r.keys[keyed{of, id}] = line.Key(key)
	return line.Key(key)
}

var (
	lastEntry   = stated(reading, "read the last entry's place", "SELECT seq, recorded_ms FROM entry ORDER BY seq DESC LIMIT 1")
	recordedOf  = stated(reading, "read when an entry was recorded", "SELECT recorded_ms FROM entry WHERE seq = ?")
	insertEntry = stated(writing, "insert an entry", `INSERT INTO entry
		(seq, id, kind, subject, root, recorded_ms, received_ms, format, texts, canonical) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	insertText = stated(writing, "insert a text", "INSERT OR IGNORE INTO text (entry, hash, salt, value) VALUES (?, ?, ?, ?)")
	insertEra  = stated(writing, "begin an era", "INSERT INTO era (first_seq) VALUES (?)")

	subjectKeys = keyTable{
		stated(reading, "find a patient's key", "SELECT key FROM subject_key WHERE id = ?"),
		stated(writing, "make a patient's key", "INSERT INTO subject_key (id) VALUES (?) RETURNING key"),
		stated(reading, "find a patient's id", "SELECT id FROM subject_key WHERE key = ?"),
	}
	lineKeys = keyTable{
		stated(reading, "find a line's key", "SELECT key FROM line_key WHERE id = ?"),
		stated(writing, "make a line's key", "INSERT INTO line_key (id) VALUES (?) RETURNING key"),
		stated(reading, "find a line's id", "SELECT id FROM line_key WHERE key = ?"),
	}
	wardKeys = keyTable{
		stated(reading, "find a ward's key", "SELECT key FROM ward_key WHERE id = ?"),
		stated(writing, "make a ward's key", "INSERT INTO ward_key (id) VALUES (?) RETURNING key"),
		stated(reading, "find a ward's id", "SELECT id FROM ward_key WHERE key = ?"),
	}
)
