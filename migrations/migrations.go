// Package migrations holds the shape of the record on disk as numbered SQL
// files. They are run in order, each once; a released one is never edited.
package migrations

import "embed"

// Files holds the numbered SQL files.
//
//go:embed *.sql
var Files embed.FS
