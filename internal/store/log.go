package store

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"slices"

	"golang.org/x/mod/sumdb/tlog"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/proof"
)

// The log: for each entry the hashes that it adds to the record's Merkle tree,
// in one row, written in the transaction of the entry.

// grow adds an entry to the tree.
func (r *recording) grow(seq int64, leaf proof.Leaf) error {
	if r.edge == nil {
		edge, err := r.w.edgeAt(r.seq)
		if err != nil {
			return err
		}
		r.edge = &edge
	}
	r.tip = proof.Pack(r.edge.Add(leaf.Hash()))
	return r.w.exec(insertLog, seq, r.tip)
}

// distinct counts texts by hash: an entry that says the same twice keeps it once.
func distinct(texts []line.Sealed) int64 {
	n := int64(0)
	for i, t := range texts {
		if !slices.ContainsFunc(texts[:i], func(before line.Sealed) bool { return before.Hash == t.Hash }) {
			n++
		}
	}
	return n
}

// edgeAt gives the edge of the tree at its end: the one remembered, unless
// that was rolled back or another process has written.
func (w *writer) edgeAt(seq int64) (proof.Edge, error) {
	if !w.edgeStands || w.edge.Size() != seq {
		tip, _, err := one(background, w, logOf, value[[]byte], seq)
		if err != nil {
			return proof.Edge{}, err
		}
		if w.edge.Size() != seq || !bytes.Equal(tip, w.tip) {
			if w.edge, err = proof.ReadEdge(seq, treeReader{background, w}); err != nil {
				return proof.Edge{}, err
			}
			w.tip = tip
		}
		w.edgeStands = true
	}
	return w.edge.Clone(), nil
}

// treeReader reads kept hashes.
type treeReader struct {
	ctx context.Context
	asker
}

// ReadHashes implements tlog.HashReader.
func (r treeReader) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	hashes := make([]tlog.Hash, len(indexes))
	for i, index := range indexes {
		seq, level := proof.KeptWith(index)
		packed, _, err := one(r.ctx, r.asker, logOf, value[[]byte], seq)
		if err != nil {
			return nil, err
		}
		if len(packed) < (level+1)*tlog.HashSize {
			return nil, fault.Wrap(fmt.Errorf("the hashes kept for entry %d are damaged", seq), fault.Internal, "store.log-damaged")
		}
		copy(hashes[i][:], packed[level*tlog.HashSize:])
	}
	return hashes, nil
}

// Root is the size of the record's Merkle tree and its root, from the hashes
// that were kept.
func (s *Store) Root(ctx context.Context) (size int64, root tlog.Hash, err error) {
	snap, err := s.snapshot(ctx)
	if err != nil {
		return 0, root, err
	}
	defer snap.done()
	size, _, err = one(ctx, snap, logSize, value[int64])
	if err != nil {
		return 0, root, err
	}
	root, err = tlog.TreeHash(size, treeReader{ctx, snap})
	return size, root, err
}

// Begins reports whether the record, by its kept hashes, begins with the
// entries that a head of the size and root was made of. It makes the proof of
// consistency (RFC 6962, section 2.1.2) and checks that against today's root.
func (s *Store) Begins(ctx context.Context, size int64, root tlog.Hash) (bool, error) {
	snap, err := s.snapshot(ctx)
	if err != nil {
		return false, err
	}
	defer snap.done()
	now, _, err := one(ctx, snap, logSize, value[int64])
	if err != nil || size > now {
		return false, err
	}
	reader := treeReader{ctx, snap}
	today, err := tlog.TreeHash(now, reader)
	if err != nil {
		return false, err
	}
	if size == 0 {
		empty, err := tlog.TreeHash(0, reader)
		return root == empty, err
	}
	shown, err := tlog.ProveTree(now, size, reader)
	if err != nil {
		return false, fmt.Errorf("prove that the record begins with %d entries: %w", size, err)
	}
	return tlog.CheckTree(shown, now, today, size, root) == nil, nil
}

// logVersion is the shape of the file that brought the log.
const logVersion = 8

// beginLog makes the table and takes the entries that are there into the tree.
func beginLog(ctx context.Context, tx *sql.Tx) error {
	for _, step := range []string{
		// How many texts came with an entry: so one that is gone is missed. An
		// older file tells only how many there are now.
		"ALTER TABLE entry ADD COLUMN texts INTEGER NOT NULL DEFAULT 0",
		"DROP TRIGGER entry_never_updated",
		"UPDATE entry SET texts = (SELECT count(*) FROM text t WHERE t.entry = seq) WHERE seq IN (SELECT entry FROM text)",
		"CREATE TRIGGER entry_never_updated BEFORE UPDATE ON entry BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END",
		`-- hashes: of the entry's leaf and, by rising level, of the subtrees that it completes, 32 bytes each.
CREATE TABLE log (seq INTEGER PRIMARY KEY, hashes BLOB NOT NULL) STRICT`,
		`CREATE TRIGGER log_never_updated BEFORE UPDATE ON log BEGIN SELECT RAISE(ABORT, 'the log is never changed'); END`,
		`CREATE TRIGGER log_never_deleted BEFORE DELETE ON log BEGIN SELECT RAISE(ABORT, 'the log is never changed'); END`,
	} {
		if _, err := tx.ExecContext(ctx, step); err != nil {
			return fmt.Errorf("make the log: %w", err)
		}
	}
	insert, err := tx.PrepareContext(ctx, insertLog.text)
	if err != nil {
		return err
	}
	defer func() { _ = insert.Close() }()
	var edge proof.Edge
	for {
		some, err := someLeaves(ctx, tx, edge.Size())
		if err != nil || len(some) == 0 {
			return err
		}
		for _, leaf := range some {
			packed := proof.Pack(edge.Add(leaf.Hash()))
			if _, err := insert.ExecContext(ctx, edge.Size(), packed); err != nil {
				return fmt.Errorf("take entry %d into the log: %w", edge.Size(), err)
			}
		}
	}
}

func someLeaves(ctx context.Context, tx *sql.Tx, after int64) ([]seqLeaf, error) {
	rows, err := tx.QueryContext(ctx, "SELECT "+leafColumns+" FROM entry WHERE seq > ? ORDER BY seq LIMIT ?", after, atOnce)
	if err != nil {
		return nil, fmt.Errorf("read entries for the log: %w", err)
	}
	defer func() { _ = rows.Close() }()
	var list []seqLeaf
	for rows.Next() {
		l, err := scanLeaf(rows.Scan)
		if err != nil {
			return nil, err
		}
		list = append(list, l)
	}
	return list, rows.Err()
}

// seqLeaf is a row of entry as the log covers it.
type seqLeaf struct {
	seq int64
	proof.Leaf
}

const leafColumns = "seq, id, kind, subject, root, recorded_ms, received_ms, format, texts, canonical"

func scanLeaf(row scan) (seqLeaf, error) {
	var l seqLeaf
	return l, row(&l.seq, &l.ID, &l.Kind, &l.Subject, &l.Root, &l.RecordedMS, &l.ReceivedMS, &l.Format, &l.Texts, &l.Canonical)
}

var (
	insertLog = stated(writing, "add an entry to the log", "INSERT INTO log (seq, hashes) VALUES (?, ?)")
	logOf     = stated(reading, "read the hashes kept for an entry", "SELECT hashes FROM log WHERE seq = ?")
	logSize   = stated(reading, "read the size of the log", "SELECT coalesce(max(seq), 0) FROM log")
)
