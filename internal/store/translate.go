package store

import (
	"context"
	"errors"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"dwellbook/internal/fault"
)

// translate classifies an error of the driver by its code; others pass as they
// are. The low byte is the code, the rest refines it.
func translate(err error) error {
	var known *fault.Error
	var e *sqlite.Error
	if err == nil || errors.As(err, &known) || errors.Is(err, context.Canceled) || !errors.As(err, &e) {
		return err
	}
	switch e.Code() & 0xff {
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return fault.Wrap(err, fault.Busy, "store.busy")
	case sqlite3.SQLITE_FULL:
		return fault.Wrap(err, fault.Busy, "store.disk-full")
	case sqlite3.SQLITE_IOERR:
		return fault.Wrap(err, fault.Busy, "store.disk-failing")
	case sqlite3.SQLITE_NOTADB:
		return fault.Wrap(err, fault.Conflict, "store.not-a-record")
	case sqlite3.SQLITE_CORRUPT:
		return fault.Wrap(err, fault.Internal, "store.damaged")
	case sqlite3.SQLITE_READONLY:
		return fault.Wrap(err, fault.Conflict, "store.read-only")
	case sqlite3.SQLITE_CANTOPEN:
		return fault.Wrap(err, fault.NotFound, "store.cannot-open")
	}
	return err
}
