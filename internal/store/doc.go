// Package store is the record on disk: one SQLite file. SQL stands here and in
// migrations, nowhere else.
//
// The table entry holds what people said as canonical bytes, in the order it
// was accepted; triggers refuse to change or delete a row. Texts that can
// identify a person stand apart, so that they can be erased. All that screens
// and the audit read (mark, line, patient, span and the rest) is derived from
// the entries in the transaction that stores them, and Rebuild can remake it.
// No page scans entry or mark; a test walks the query plans.
//
// The table log keeps the hashes that each entry adds to a Merkle tree over all
// of them (package proof), in the same transaction. Verify holds the record
// against it and changes nothing.
//
// One goroutine owns the one write connection. It stores what is waiting in
// one transaction, each Append in a savepoint of its own, and answers once the
// transaction is on the disk (WAL, synchronous=FULL). Readers have a pool of
// their own that cannot write. Another process may write too; its commits are
// noticed and reported to OnChange.
//
// The derived rows of a patient are a pure function of the patient's marks
// (derive). A change writes only the difference between the rows of the marks
// before and after it, so a change of derive needs a Rebuild.
package store
