package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"

	"dwellbook/internal/fault"
)

// Restored says what a restored record holds.
type Restored struct {
	Entries int64
	Last    time.Time // when the last entry was recorded; zero: there is none
	Aside   string    // where the file that was there before is now; "": none was
}

// Restore puts a copy in a record's place. The copy is checked first, and may
// be of an older program: the server brings it to today's shape. A file that is
// there already is refused (Conflict, store.restore-over) unless it may be
// replaced; then it is kept under another name, made of the moment. While a
// program has it open it stays (Conflict, store.in-use).
func Restore(ctx context.Context, from, to string, replace bool, now time.Time) (Restored, error) {
	r, err := restore(ctx, from, to, replace, now)
	if err != nil {
		return Restored{}, fmt.Errorf("restore %s: %w", to, translate(err))
	}
	return r, nil
}

func restore(ctx context.Context, from, to string, replace bool, now time.Time) (r Restored, err error) {
	if err := mayRestore(from, to, replace); err != nil {
		return r, err
	}
	how := []string{"mode=ro"}
	if _, err := os.Stat(from + "-wal"); errors.Is(err, fs.ErrNotExist) {
		how = append(how, "immutable=1") // nothing is made beside it, which may be on a medium that only reads
	}
	partial := to + unfinished
	if err := remove(partial); err != nil {
		return r, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, remove(partial))
		}
	}()
	db, err := sql.Open("sqlite", source(from, how...))
	if err != nil {
		return r, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := copyTo(ctx, db, partial); err != nil {
		return r, err
	}
	if err := checkCopy(ctx, partial); err != nil {
		return r, err
	}
	if r, err = contents(ctx, db); err != nil {
		return r, err
	}
	if r.Aside, err = setAside(ctx, to, now); err != nil {
		return r, err
	}
	return r, keep(partial, to)
}

// mayRestore refuses what can be seen to be wrong before anything is done.
func mayRestore(from, to string, replace bool) error {
	if _, err := os.Stat(from); errors.Is(err, fs.ErrNotExist) {
		return fault.Wrap(err, fault.NotFound, "store.no-file", "file", from)
	}
	same, err := sameFile(from, to)
	if err != nil {
		return err
	}
	if same {
		return fault.New(fault.Invalid, "store.backup-onto-itself", "file", to)
	}
	if _, err := os.Stat(to); err == nil && !replace {
		return fault.New(fault.Conflict, "store.restore-over", "file", to)
	}
	return nil
}

// contents counts what a record holds; it says nothing of Aside.
func contents(ctx context.Context, db *sql.DB) (r Restored, err error) {
	var ms int64
	err = db.QueryRowContext(ctx, lastRecorded.text).Scan(&r.Entries, &ms)
	if errors.Is(err, sql.ErrNoRows) {
		return r, nil
	}
	r.Last = time.UnixMilli(ms).UTC()
	return r, err
}

// setAside gives a record, or what is left of one, another name. A log without
// its file goes along: beside the restored file it would be taken for its own.
func setAside(ctx context.Context, path string, now time.Time) (string, error) {
	if err := alone(ctx, path); err != nil {
		return "", err
	}
	aside := path + now.UTC().Format(".before-20060102T150405Z")
	moved := ""
	for _, suffix := range []string{"", "-wal", "-shm", "-journal"} {
		err := os.Rename(path+suffix, aside+suffix)
		if err == nil {
			moved = aside
		} else if !errors.Is(err, fs.ErrNotExist) {
			return moved, err
		}
	}
	return moved, nil
}

// alone refuses where another program has the file open: only whoever is alone
// can leave write-ahead logging, which folds the log in. A file too damaged to
// be read is let be with its log, which may hold what was recorded last.
func alone(ctx context.Context, path string) error {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	var mode string
	err := askFile(ctx, source(path, "mode=ro"), schemaVersion, &mode)
	if err == nil {
		err = askFile(ctx, source(path, "mode=rw"), leaveLog, &mode)
	}
	var f *fault.Error
	switch known := errors.As(err, &f); {
	case known && f.Kind == fault.Busy, err == nil && mode == "wal":
		return fault.New(fault.Conflict, "store.in-use", "file", path)
	case known && (f.Key == "store.damaged" || f.Key == "store.not-a-record"):
		return nil
	}
	return err
}

// askFile asks one thing of a file, on a connection of its own.
func askFile(ctx context.Context, source string, st *statement, answer any) error {
	db, err := sql.Open("sqlite", source)
	if err != nil {
		return err
	}
	return translate(errors.Join(db.QueryRowContext(ctx, st.text).Scan(answer), db.Close()))
}

var (
	lastRecorded = stated(whole, "find the last entry", "SELECT seq, recorded_ms FROM entry ORDER BY seq DESC LIMIT 1")
	leaveLog     = stated(whole, "leave write-ahead logging", "PRAGMA journal_mode = DELETE")
)
