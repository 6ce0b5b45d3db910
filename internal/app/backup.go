package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"sync"
	"time"

	"dwellbook/internal/desk"
	"dwellbook/internal/store"
)

// Backups says where copies of the record are kept.
type Backups struct {
	Folder string        // "": nowhere
	Every  time.Duration // between copies that the server makes; 0: something else makes them, the server looks at their age
	Keep   int           // how many
}

// KeptBackups is how many copies are kept where nothing is said: two days of
// hourly ones, seven weeks of daily ones.
const KeptBackups = 48

// check refuses what would leave the record without copies unseen. A folder is
// not made: what is missing may be a disk that is not there.
func (b Backups) check() error {
	switch {
	case b.Folder == "" && b.Every != 0:
		return &Misuse{Text: "-backup-every needs -backup-to"}
	case b.Folder == "":
		return nil
	case b.Every != 0 && b.Every < time.Minute:
		return &Misuse{Text: "-backup-every: a minute is the least"}
	case b.Keep < 1:
		return &Misuse{Text: "-backup-keep: one is the least"}
	case !IsFolder(b.Folder):
		return &Misuse{Text: fmt.Sprintf("-backup-to: there is no folder %s", b.Folder)}
	}
	return nil
}

// IsFolder reports whether the path is a folder that is there.
func IsFolder(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}

// Backup copies the record while it is in use and checks the copy.
func Backup(ctx context.Context, db, to string) error {
	st, err := store.OpenReadOnly(ctx, db)
	if err != nil {
		return err
	}
	return errors.Join(st.Backup(ctx, to), st.Close())
}

// BackupInto adds a checked copy to a folder, drops the oldest beyond the
// number to be kept, and gives the copy's file.
func BackupInto(ctx context.Context, db, folder string, keep int) (string, error) {
	if keep < 1 {
		return "", &Misuse{Text: "-keep: one is the least"}
	}
	st, err := store.OpenReadOnly(ctx, db)
	if err != nil {
		return "", err
	}
	made, err := st.BackupInto(ctx, folder, keep)
	return made.File, errors.Join(err, st.Close())
}

// Restore puts a checked copy in a record's place; a file that is there is
// replaced only where that is said, and kept under another name.
func Restore(ctx context.Context, from, db string, replace bool, now time.Time) (store.Restored, error) {
	return store.Restore(ctx, from, db, replace, now)
}

// retryBackup is how soon a copy is tried again after it failed.
const retryBackup = 5 * time.Minute

// keeper makes copies while the product runs, and tells how they stand.
type keeper struct {
	Backups
	store *store.Store
	clock func() time.Time
	log   *slog.Logger

	mu       sync.Mutex
	failed   *desk.FailedBackup // the last try, where it failed
	failures int                // of all tries
}

// run makes a copy whenever one is due, until the context ends.
func (k *keeper) run(ctx context.Context) {
	if k.Folder == "" || k.Every == 0 {
		return
	}
	for {
		due := time.NewTimer(k.wait())
		select {
		case <-ctx.Done():
			due.Stop()
			return
		case <-due.C:
			k.copy(ctx)
		}
	}
}

// wait is how long it is until the next copy.
func (k *keeper) wait() time.Duration {
	b := k.ask()
	if b.Failed != nil {
		return min(retryBackup, k.Every)
	}
	last, ok := b.Last()
	if !ok {
		return 0
	}
	return last.At.Add(k.Every).Sub(k.clock())
}

// failedTries is how many copies could not be made.
func (k *keeper) failedTries() int {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.failures
}

func (k *keeper) copy(ctx context.Context) {
	start := time.Now()
	made, err := k.store.BackupInto(ctx, k.Folder, k.Keep)
	if ctx.Err() != nil {
		return // the product is stopping; the copy was dropped
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.failed = nil
	if err != nil {
		k.failures++
		k.failed = &desk.FailedBackup{At: k.clock(), Err: err}
		k.log.Error("backup failed", "error", err)
		return
	}
	k.log.Info("backup made", "file", made.File, "bytes", made.Bytes, "took", time.Since(start))
}

// ask tells how the copies stand. A folder that cannot be read is a failure
// like one of a copy.
func (k *keeper) ask() desk.Backups {
	if k.Folder == "" {
		return desk.Backups{}
	}
	k.mu.Lock()
	b := desk.Backups{Folder: k.Folder, Every: k.Every, Failed: k.failed}
	k.mu.Unlock()
	copies, err := store.Copies(k.Folder)
	if err == nil {
		b.Record, err = k.store.Size()
	}
	if err != nil {
		b.Failed = &desk.FailedBackup{At: k.clock(), Err: err}
	}
	for _, c := range copies {
		b.Kept = append(b.Kept, desk.Backup{At: c.At, Bytes: c.Bytes})
	}
	return b
}
