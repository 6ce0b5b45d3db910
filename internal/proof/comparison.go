package proof

import (
	"bytes"

	"golang.org/x/mod/sumdb/tlog"
)

// What is wrong at a place of the record.
type What uint8

// The ways in which record and tree can differ.
const (
	Changed  What = iota + 1 // the entry is not the one that was recorded here
	Missing                  // the entry that was recorded here is gone
	Inserted                 // an entry stands here that was never recorded here
	Moved                    // the entry was recorded at another place
	Kept                     // the entry is right; the hashes kept for it are not
)

// Name is the word for it.
func (w What) Name() string {
	return [...]string{"", "changed", "missing", "inserted", "moved", "kept"}[w]
}

// Problem is one place at which the record and its tree differ.
type Problem struct {
	Seq  int64
	What What
	From int64 // Moved: the place at which it was recorded
}

// Comparison holds entries, as they are, against the hashes that were kept
// when they were recorded.
type Comparison struct {
	places   []place // by seq - 1
	lastKept int     // the last place with kept hashes
	strays   []int64 // entries whose numbers cannot be
}

// place is what is found at one place; the zero hash: nothing.
type place struct {
	entry tlog.Hash
	kept  []byte    // packed
	was   tlog.Hash // see recorded
}

var nothing tlog.Hash

// NewComparison begins a comparison of at most so many places.
func NewComparison(most int64) *Comparison { return &Comparison{places: make([]place, 0, most)} }

// at gives a place; nil where the number cannot be.
func (c *Comparison) at(seq int64) *place {
	if seq < 1 || seq > int64(cap(c.places)) {
		return nil
	}
	if seq > int64(len(c.places)) {
		c.places = c.places[:seq]
	}
	return &c.places[seq-1]
}

// Entry takes in an entry's hash. seq counts from 1.
func (c *Comparison) Entry(seq int64, hash tlog.Hash) {
	if p := c.at(seq); p != nil {
		p.entry = hash
	} else {
		c.strays = append(c.strays, seq)
	}
}

// Kept takes in the hashes that were kept for an entry, packed.
func (c *Comparison) Kept(seq int64, packed []byte) {
	if p := c.at(seq); p != nil {
		p.kept = packed
		c.lastKept = max(c.lastKept, int(seq))
	} else {
		c.strays = append(c.strays, seq)
	}
}

// Size is the number of places with an entry or hashes.
func (c *Comparison) Size() int64 { return int64(len(c.places)) }

// Root is the root of the first size entries as they are. ok is false where
// there are fewer.
func (c *Comparison) Root(size int64) (root tlog.Hash, ok bool) {
	if size > int64(len(c.places)) {
		return root, false
	}
	var e Edge
	for _, p := range c.places[:size] {
		if p.entry == nothing {
			return root, false
		}
		e.Add(p.entry)
	}
	return e.Root(), true
}

// Problems lists every place at which entries and kept hashes differ, in order.
func (c *Comparison) Problems() []Problem {
	then, now := map[tlog.Hash]int64{}, map[tlog.Hash]int64{} // where what differs was, and where it is
	for i := range c.places {
		p := &c.places[i]
		if p.was = c.recorded(i); p.was != p.entry {
			then[p.was], now[p.entry] = int64(i+1), int64(i+1)
		}
	}
	delete(then, nothing)
	delete(now, nothing)
	var list []Problem
	var e Edge
	for i, p := range c.places {
		seq := int64(i + 1)
		packed := Pack(e.Add(p.was))
		from, moved := then[p.entry]
		_, elsewhere := now[p.was]
		switch {
		case p.entry == p.was && bytes.Equal(p.kept, packed) && p.entry != nothing:
		case p.entry == p.was && p.entry != nothing:
			list = append(list, Problem{Seq: seq, What: Kept})
		case moved:
			list = append(list, Problem{Seq: seq, What: Moved, From: from})
		case p.entry == nothing && !elsewhere:
			list = append(list, Problem{Seq: seq, What: Missing})
		case p.entry == nothing:
		case p.was == nothing || elsewhere:
			list = append(list, Problem{Seq: seq, What: Inserted})
		default:
			list = append(list, Problem{Seq: seq, What: Changed})
		}
	}
	for _, seq := range c.strays {
		list = append(list, Problem{Seq: seq, What: Inserted})
	}
	return list
}

// recorded is the hash of the entry that was recorded at a place, as far as
// can be told. Where the entry's hash and the one kept for it differ, the hash
// above them says which of the two was there.
func (c *Comparison) recorded(i int) tlog.Hash {
	p := c.places[i]
	kept := p.leaf()
	switch {
	case kept == nothing && i < c.lastKept:
		return p.entry
	case kept == p.entry, kept == nothing, p.entry == nothing:
		return kept
	}
	left, right := i&^1, i|1
	if right >= len(c.places) || len(c.places[right].kept) < 2*tlog.HashSize {
		return kept
	}
	above := c.places[right].kept[tlog.HashSize : 2*tlog.HashSize]
	other := c.places[left+right-i]
	for _, hash := range []tlog.Hash{other.leaf(), other.entry} {
		pair := tlog.NodeHash(p.entry, hash)
		if i == right {
			pair = tlog.NodeHash(hash, p.entry)
		}
		if bytes.Equal(pair[:], above) {
			return p.entry
		}
	}
	return kept
}

// leaf is the first of the kept hashes.
func (p place) leaf() (h tlog.Hash) {
	copy(h[:], p.kept)
	return h
}
