// Package proof shows that a record was not altered. It is pure: no clock, no
// database, no HTTP.
//
// Every entry is a leaf of a Merkle tree (RFC 6962, section 2.1; the hashes
// are kept as golang.org/x/mod/sumdb/tlog lays them out). The tree's root,
// with its size and the time, is a head. A head is signed and written as a
// checkpoint of transparency logs (C2SP tlog-checkpoint, a signed note), an
// open format. Whoever kept a head elsewhere can have it shown that today's
// record begins with the very entries the head was made of.
//
// The key stands on the machine of the record, so whoever can change the
// record can sign anew. A head proves something once it is kept where they
// cannot reach it.
package proof
