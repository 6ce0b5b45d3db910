package desk

import (
	"time"

	"dwellbook/internal/account"
)

// Backups is how the copies of the record stand.
type Backups struct {
	Folder string        // "": none is named, and nothing is known of copies
	Every  time.Duration // between those that the server makes; 0: something else makes them
	Record int64         // bytes of the record itself
	Kept   []Backup      // the oldest first; each was checked before it was kept
	Failed *FailedBackup // the last try, where it failed
}

// Backup is one checked copy of the record.
type Backup struct {
	At    time.Time // all that was recorded by then is in it
	Bytes int64
}

// FailedBackup is a try that ended without a copy.
type FailedBackup struct {
	At  time.Time
	Err error
}

// Last is the newest copy; ok is false where there is none.
func (b Backups) Last() (last Backup, ok bool) {
	if len(b.Kept) == 0 {
		return last, false
	}
	return b.Kept[len(b.Kept)-1], true
}

// agesDaily is the age at which a copy is old where something else makes them:
// a day and what a nightly job may take (house rule).
const agesDaily = 26 * time.Hour

// OldAfter is the age from which the newest copy is old: one was left out.
func (b Backups) OldAfter() time.Duration {
	if b.Every == 0 {
		return agesDaily
	}
	return 2 * b.Every
}

// Trouble says what is wrong with the copies, so that somebody should look.
type Trouble string

// What can be wrong, the gravest first.
const (
	NoFolder  Trouble = "no-folder"
	NoCopy    Trouble = "no-copy"
	OldCopy   Trouble = "old-copy"
	LastFails Trouble = "last-failed" // the newest copy is young enough still
	NoTrouble Trouble = ""
)

// Trouble says what is wrong with the copies at a moment.
func (b Backups) Trouble(now time.Time) Trouble {
	last, ok := b.Last()
	switch {
	case b.Folder == "":
		return NoFolder
	case !ok:
		return NoCopy
	case now.Sub(last.At) > b.OldAfter():
		return OldCopy
	case b.Failed != nil:
		return LastFails
	}
	return NoTrouble
}

// WatchBackups says whom the desk asks how the copies stand. Without it no
// folder is named. It is called before anybody asks.
func (d *Desk) WatchBackups(ask func() Backups) { d.backups = ask }

// Backups tells how the copies of the record stand.
func (d *Desk) Backups(who Person) (Backups, error) {
	if err := who.require(account.ManagePeople); err != nil {
		return Backups{}, err
	}
	if d.backups == nil {
		return Backups{}, nil
	}
	return d.backups(), nil
}
