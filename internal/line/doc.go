// Package line is the vocabulary of the record: gauges, sites, signs and the
// other codes, the kinds of entry, and a patient's history folded from them.
//
// A patient's record is a list of dated entries, never changed. An entry is
// written out once as canonical bytes (Canonical) and once as marks, rows of
// integers that hold what the audit reads (Marks). Fold turns the marks known
// at some moment into the patient's history. It is total: on any list it gives
// a history and the conflicts in it, never an error.
//
// The package is pure: no clock, no database, and it imports nothing of ours.
package line
