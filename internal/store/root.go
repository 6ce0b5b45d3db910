package store

import (
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// rootEntry is the entry that a correction or void is about; of any other
// entry it is the entry itself.
type rootEntry struct {
	seq     int64
	kind    line.Kind
	author  line.ID
	was     *line.Entry // the version that stood; nil: new, or withdrawn
	last    *line.Entry // the last version that stood; nil: new
	seqs    []int64     // of all versions before
	version line.ID     // the entry that is applied: a new one, a correction, a void
	by      line.ID     // its author
}

// rootOf finds what an entry is about, and refuses a correction or void that
// is about nothing, or of a version that is not the latest.
func (r *recording) rootOf(e line.Entry, seq int64) (*rootEntry, error) {
	root := &rootEntry{seq: seq, kind: e.Kind, author: e.Author}
	var err error
	switch b := e.Body.(type) {
	case line.Correction:
		root, err = r.lookUp(b.Root, b.Seen, seq)
		if err == nil && root.kind != b.Replacement.Kind {
			err = fault.Field("replacement.kind", "store.kind-changed", "was", root.kind, "is", b.Replacement.Kind)
		}
	case line.Void:
		root, err = r.lookUp(b.Root, b.Seen, seq)
	}
	if err != nil {
		return nil, err
	}
	root.version, root.by = e.ID, e.Author
	return root, nil
}

// lookUp finds the root id as it stood before the entry with the place until.
func (r *recording) lookUp(id, seen line.ID, until int64) (*rootEntry, error) {
	first, ok, err := one(background, r.w, entryByID, scanStored, string(id))
	if err != nil {
		return nil, err
	}
	if !ok || first.root != first.seq {
		return nil, fault.Field("root", "store.root-unknown", "id", string(id))
	}
	later, err := all(background, r.w, laterVersions, scanStored, first.seq, until)
	if err != nil {
		return nil, err
	}
	original, err := first.open(background, r.w)
	if err != nil {
		return nil, err
	}
	root := &rootEntry{seq: first.seq, kind: original.Kind, author: original.Author, was: &original, last: &original, seqs: []int64{first.seq}}
	latest := first
	for _, v := range later {
		root.seqs = append(root.seqs, v.seq)
		latest = v
		if root.was, err = r.standing(v); err != nil {
			return nil, err
		}
		if root.was != nil {
			root.last = root.was
		}
	}
	switch {
	case root.kind == line.KindErasure:
		return nil, fault.Field("root", "store.erasure-final")
	case !r.asRecorded && latest.id != seen:
		return nil, fault.New(fault.Conflict, "store.correction-stale", "latest", string(latest.id))
	}
	return root, nil
}

// standing is what stands of an entry after a version of it: the replacement,
// or nil where that withdrew it.
func (r *recording) standing(v stored) (*line.Entry, error) {
	e, err := v.open(background, r.w)
	if err != nil {
		return nil, err
	}
	if c, ok := e.Body.(line.Correction); ok {
		return &c.Replacement, nil
	}
	return nil, nil
}
