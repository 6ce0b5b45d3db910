package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// Copy is a backup in a folder of backups. It got its name after its check, so
// that one which is there is good.
type Copy struct {
	File  string
	At    time.Time // all that was recorded by then is in it
	Bytes int64
}

// copyName is the name of a backup by its moment, so that names sort by age.
const copyName = "record-20060102T150405Z.db"

// orphaned is the age at which a copy that never got its name is nobody's any more.
const orphaned = 24 * time.Hour

// BackupInto adds a checked copy of the record to a folder, then drops the
// oldest copies beyond the number to be kept.
func (s *Store) BackupInto(ctx context.Context, dir string, keep int) (Copy, error) {
	at := s.options.Clock().UTC().Truncate(time.Second)
	file := filepath.Join(dir, at.Format(copyName))
	if err := s.Backup(ctx, file); err != nil {
		return Copy{}, err
	}
	info, err := os.Stat(file)
	if err != nil {
		return Copy{}, fmt.Errorf("backup to %s: %w", file, err)
	}
	made := Copy{File: file, At: at, Bytes: info.Size()}
	if err := rotate(dir, keep, at); err != nil {
		return made, fmt.Errorf("drop old backups in %s: %w", dir, err)
	}
	return made, nil
}

// Copies lists the backups in a folder, the oldest first. Other files there
// are let be.
func Copies(dir string) ([]Copy, error) {
	entries, err := os.ReadDir(dir) // in order of name
	if err != nil {
		return nil, fmt.Errorf("list backups: %w", err)
	}
	var list []Copy
	for _, e := range entries {
		at, err := time.Parse(copyName, e.Name())
		if err != nil {
			continue
		}
		info, err := e.Info()
		if errors.Is(err, fs.ErrNotExist) {
			continue // dropped meanwhile
		}
		if err != nil {
			return nil, fmt.Errorf("list backups: %w", err)
		}
		list = append(list, Copy{File: filepath.Join(dir, e.Name()), At: at, Bytes: info.Size()})
	}
	return list, nil
}

// rotate drops the oldest copies beyond the number to be kept, and what a
// backup that was killed has left.
func rotate(dir string, keep int, now time.Time) error {
	list, err := Copies(dir)
	if err != nil {
		return err
	}
	for _, c := range list[:max(0, len(list)-keep)] {
		if err := remove(c.File); err != nil {
			return err
		}
	}
	left, err := filepath.Glob(filepath.Join(dir, "record-*.db"+unfinished))
	if err != nil {
		return err
	}
	for _, file := range left {
		at, err := time.Parse(copyName+unfinished, filepath.Base(file))
		if err != nil || now.Sub(at) < orphaned {
			continue
		}
		if err := remove(file); err != nil {
			return err
		}
	}
	return nil
}
