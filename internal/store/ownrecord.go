package store

import (
	"context"

	"dwellbook/internal/line"
)

// settleOwnRecords makes the touched agreements and shares anew.
func (r *recording) settleOwnRecords() error {
	for version := range r.answered {
		if err := r.settleAgreements(version); err != nil {
			return err
		}
	}
	for share := range r.shares {
		if err := r.settleShare(share); err != nil {
			return err
		}
	}
	return nil
}

// settleAgreements makes what each person says to one version of an occasion:
// the last that stands.
func (r *recording) settleAgreements(version line.ID) error {
	list, err := bodies[line.AttemptAgreement](r, line.KindAttemptAgreement, version)
	if err != nil {
		return err
	}
	if err := r.w.exec(deleteAgreements, string(version)); err != nil {
		return err
	}
	for _, a := range list {
		if err := r.w.exec(insertAgreement, string(a.Account), string(version), int64(a.Agreed)); err != nil {
			return err
		}
	}
	return nil
}

// settleShare makes a share: the first entry that stands says whose record it
// is, for whom, and holds the copy; only that person's later ones count.
func (r *recording) settleShare(id line.ID) error {
	entries, err := r.about(line.KindRecordShare, id)
	if err != nil {
		return err
	}
	if len(entries) == 0 {
		return r.w.exec(deleteShare, string(id))
	}
	first := entries[0]
	share, _ := first.Body.(line.RecordShare)
	takenBack := false
	for _, e := range entries {
		if b, ok := e.Body.(line.RecordShare); ok && b.Account == share.Account {
			takenBack = b.TakenBack
		}
	}
	return r.w.exec(insertShare, string(id), string(first.ID), string(share.Account), string(share.With), int64(first.Happened), takenBack)
}

func scanShare(row scan) (line.SharedRecord, error) {
	var s line.SharedRecord
	return s, row(&s.ID, &s.Entry, &s.Account, &s.With, &s.At, &s.TakenBack)
}

// SharesBy gives the copies of a person's record that were ever shared, the
// latest first.
func (s *Store) SharesBy(ctx context.Context, account line.ID) ([]line.SharedRecord, error) {
	return all(ctx, s, sharesBy, scanShare, string(account))
}

// SharesWith gives the copies that a person may read now, the latest first.
func (s *Store) SharesWith(ctx context.Context, reader line.ID) ([]line.SharedRecord, error) {
	return all(ctx, s, sharesWith, scanShare, string(reader))
}

// Share gives one share. NotFound: store.no-share.
func (s *Store) Share(ctx context.Context, id line.ID) (line.SharedRecord, error) {
	return found(ctx, s, shareByID, scanShare, "store.no-share", string(id))
}

const shareColumns = "id, copy, account, reader, happened, taken_back"

var (
	deleteAgreements = stated(writing, "delete the agreements to a version", "DELETE FROM agreement WHERE version = ?")
	insertAgreement  = stated(writing, "write an agreement", "INSERT OR REPLACE INTO agreement (account, version, agreed) VALUES (?, ?, ?)")
	deleteShare      = stated(writing, "delete a share", "DELETE FROM record_share WHERE id = ?")
	insertShare      = stated(writing, "write a share", "INSERT OR REPLACE INTO record_share ("+shareColumns+") VALUES (?, ?, ?, ?, ?, ?)")
	sharesBy         = stated(reading, "read the shares of a record",
		"SELECT "+shareColumns+" FROM record_share WHERE account = ? ORDER BY happened DESC, id")
	sharesWith = stated(reading, "read the shares with a reader",
		"SELECT "+shareColumns+" FROM record_share WHERE reader = ? AND NOT taken_back ORDER BY happened DESC, id")
	shareByID = stated(reading, "read a share", "SELECT "+shareColumns+" FROM record_share WHERE id = ?")
)
