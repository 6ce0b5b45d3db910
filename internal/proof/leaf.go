package proof

import (
	"fmt"

	"golang.org/x/mod/sumdb/tlog"
)

// Leaf is an entry as the tree covers it: its bytes and all that the record
// keeps about it. Its place is covered by the tree itself. The texts that can
// identify a person are covered by their salted hashes, which stand in
// Canonical: so they can be erased, and the leaf stays.
type Leaf struct {
	ID                     string
	Kind, Subject          int64
	Root                   int64 // the place of the entry that this one corrects, or its own
	RecordedMS, ReceivedMS int64
	Format                 int64
	Texts                  int64 // how many texts came with the entry
	Canonical              []byte
}

// Hash is the leaf's hash: of "dwellbook entry 1", a line of the fields in the
// order above, and the canonical bytes.
func (l Leaf) Hash() tlog.Hash {
	b := make([]byte, 0, len(l.Canonical)+128)
	b = fmt.Appendf(b, "dwellbook entry 1\n%s %d %d %d %d %d %d %d\n",
		l.ID, l.Kind, l.Subject, l.Root, l.RecordedMS, l.ReceivedMS, l.Format, l.Texts)
	return tlog.RecordHash(append(b, l.Canonical...))
}
