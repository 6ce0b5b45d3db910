// Package interop reads and writes the forms in which the record meets the
// rest of the world: audit sheets as CSV, with a mapping file for headings and
// codes that are not ours, and entries as JSON Lines.
//
// What a sheet says becomes entries like everybody's. Their ids are made of
// the source's name, the line_id, the kind and the time, so that the same sheet read
// twice gives the same entries and next month's sheet only what is new. A
// blank cell says nothing: it never contradicts what the record knows.
//
// A table of line episodes is read by the same rules, but straight into what
// the outcomes read: it knows no hospital and leads to no entries.
//
// Everything a person reads is a key of the catalogue with its arguments.
package interop
