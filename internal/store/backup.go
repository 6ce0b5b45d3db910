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
	partial := to + ".partial"
	if err := remove(partial); err != nil {
		return fmt.Errorf("backup to %s: %w", to, err)
	}
	err = s.copyTo(ctx, partial)
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

// copyTo makes a copy with SQLite's online backup.
func (s *Store) copyTo(ctx context.Context, path string) error {
	conn, err := s.readers.Conn(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = conn.Close() }()
	return conn.Raw(func(driver any) error {
		c, ok := driver.(copier)
		if !ok {
			return errors.New("the driver cannot copy")
		}
		b, err := c.NewBackup(source(path))
		if err != nil {
			return err
		}
		// All pages in one step, and so of one moment. Writers do not wait: the
		// log keeps the old pages.
		if _, err := b.Step(-1); err != nil {
			return errors.Join(err, b.Finish())
		}
		return b.Finish()
	})
}

// checkCopy refuses a copy that is damaged or not in today's shape.
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
	return checkVersion(ctx, db, path)
}

// keep gives the checked copy its name, for good.
func keep(partial, to string) error {
	for _, step := range []func() error{
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
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
