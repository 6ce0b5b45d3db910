package proof

import (
	"math/bits"
	"slices"

	"golang.org/x/mod/sumdb/tlog"
)

// Edge is the growing side of a tree: all that is needed to add a leaf and to
// know the root. The zero value is the empty tree.
type Edge struct {
	size int64
	last []tlog.Hash // by level, the last subtree of 2^level leaves
}

// ReadEdge reads the edge of a tree of the size.
func ReadEdge(size int64, r tlog.HashReader) (Edge, error) {
	e := Edge{size: size, last: make([]tlog.Hash, bits.Len64(uint64(size)))}
	var levels []int
	var indexes []int64
	for level := range e.last {
		if size>>level&1 == 1 {
			levels = append(levels, level)
			indexes = append(indexes, tlog.StoredHashIndex(level, size>>level-1))
		}
	}
	hashes, err := r.ReadHashes(indexes)
	if err != nil {
		return Edge{}, err
	}
	for i, level := range levels {
		e.last[level] = hashes[i]
	}
	return e, nil
}

// Size is the number of leaves.
func (e *Edge) Size() int64 { return e.size }

// Clone gives an edge that grows by itself.
func (e *Edge) Clone() Edge { return Edge{e.size, slices.Clone(e.last)} }

// Add adds a leaf and gives the hashes to be kept with it: its own and, by
// rising level, those of the subtrees that it completes.
func (e *Edge) Add(leaf tlog.Hash) []tlog.Hash {
	hashes := []tlog.Hash{leaf}
	for level := 0; e.size>>level&1 == 1; level++ {
		hashes = append(hashes, tlog.NodeHash(e.last[level], hashes[level]))
	}
	for level, h := range hashes {
		if level == len(e.last) {
			e.last = append(e.last, h)
		}
		e.last[level] = h
	}
	e.size++
	return hashes
}

// Root is the root of the tree.
func (e *Edge) Root() tlog.Hash {
	root, err := tlog.TreeHash(e.size, e)
	if err != nil {
		panic(err) // ReadHashes never fails
	}
	return root
}

// ReadHashes gives the hashes that make the root.
func (e *Edge) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	hashes := make([]tlog.Hash, len(indexes))
	for i, index := range indexes {
		level, _ := tlog.SplitStoredHashIndex(index)
		hashes[i] = e.last[level]
	}
	return hashes, nil
}

// KeptWith says with which leaf, counted from 1, a stored hash is kept, and which
// it is of that leaf's hashes.
func KeptWith(index int64) (seq int64, level int) {
	level, n := tlog.SplitStoredHashIndex(index)
	return (n + 1) << level, level
}

// Pack puts the hashes of one leaf into bytes.
func Pack(hashes []tlog.Hash) []byte {
	b := make([]byte, 0, len(hashes)*tlog.HashSize)
	for _, h := range hashes {
		b = append(b, h[:]...)
	}
	return b
}
