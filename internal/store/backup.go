package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"modernc.org/sqlite"

	"dwellbook/internal/fault"
)

// copier is what the driver's connection offers beyond database/sql.
type copier interface {
	NewBackup(to string) (*sqlite.Backup, error)
}

// unfinished ends the name of a copy until it is checked.
const unfinished = ".partial"

// Backup copies the record as it stands at one moment to a file, while others
// read and write. The copy is checked before it takes the name: whatever was
// under that name stays until then.
func (s *Store) Backup(ctx context.Context, to string) error {
	same, err := sameFile(s.path, to)
	if err != nil {
		return fmt.Errorf("backup to %s: %w", to, err)
	}
	if same {
		return fault.New(fault.Invalid, "store.backup-onto-itself", "file", to)
	}
	partial := to + unfinished
	if err := remove(partial); err != nil {
		return fmt.Errorf("backup to %s: %w", to, err)
	}
	err = copyTo(ctx, s.readers, partial)
	if err == nil {
		err = checkCopy(ctx, partial)
	}
	if err == nil {
		err = keep(partial, to)
	}
	if err != nil {
		return fmt.Errorf("backup to %s: %w", to, errors.Join(translate(err), remove(partial)))
	}
	return nil
}

// sameFile reports whether b is there and is the file a, by whatever name.
func sameFile(a, b string) (bool, error) {
	there, err := os.Stat(b)
	if errors.Is(err, os.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	here, err := os.Stat(a)
	return err == nil && os.SameFile(here, there), err
}

// remove deletes a database file with what SQLite may have left beside it.
func remove(path string) error {
	for _, p := range []string{path, path + "-wal", path + "-shm", path + "-journal"} {
		if err := os.Remove(p); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	return nil
}

// pagesAtOnce is how much is copied before it is asked whether to go on.
// Tests make it small.
var pagesAtOnce int32 = 4096

// copyTo makes a copy with SQLite's online backup.
func copyTo(ctx context.Context, db *sql.DB, path string) error {
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = conn.Close() }()
	// One reading transaction around all steps, and so a copy of one moment.
	// Writers do not wait: the log keeps the old pages.
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }()
	if _, err := tx.ExecContext(ctx, schemaVersion.text); err != nil { // a transaction begins with its first question
		return err
	}
	return conn.Raw(func(driver any) error {
		c, ok := driver.(copier)
		if !ok {
			return errors.New("the driver cannot copy")
		}
		b, err := c.NewBackup(source(path))
		if err != nil {
			return err
		}
		for more := true; more && err == nil; {
			if more, err = b.Step(pagesAtOnce); err == nil {
				err = ctx.Err()
			}
		}
		return errors.Join(err, b.Finish())
	})
}

// checkCopy refuses a copy that is damaged, empty, or of a newer program.
func checkCopy(ctx context.Context, path string) (err error) {
	db, err := sql.Open("sqlite", source(path, "mode=ro", "immutable=1"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	var answer string
	if err := db.QueryRowContext(ctx, integrity.text).Scan(&answer); err != nil {
		return err
	}
	if answer != "ok" {
		return fault.Wrap(errors.New(answer), fault.Internal, "store.copy-damaged")
	}
	switch has, err := version(ctx, db); {
	case err != nil:
		return translate(err)
	case has == 0:
		return fault.New(fault.Conflict, "store.not-a-record")
	}
	if err := checkVersion(ctx, db, path); !older(err) {
		return err
	}
	return nil
}

// keep gives the checked copy its name, for good. Only its owner may read it.
func keep(partial, to string) error {
	for _, step := range []func() error{
		func() error { return os.Chmod(partial, 0o600) },
		func() error { return syncFile(partial) },
		func() error { return os.Rename(partial, to) },
		func() error { return syncFile(filepath.Dir(to)) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// syncFile puts a file, or the names in a folder, on the disk for good.
func syncFile(path string) error {
	f, err := os.Open(path) // #nosec G304 -- the copy made a moment ago, or its folder
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// older reports whether the error is of a file that an older program used last.
func older(err error) bool {
	var f *fault.Error
	return errors.As(err, &f) && f.Key == "store.schema-older"
}

var schemaVersion = stated(whole, "read the version of the tables", "PRAGMA schema_version")
