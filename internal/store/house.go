package store

import (
	"context"
	"strings"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// applyHouse makes an entry of the house count: a policy, a ward, the
// hospital, an account, a link, or what a person says of their own record.
func (r *recording) applyHouse(e line.Entry, known int64, root *rootEntry) error {
	r.change.house = r.change.house || root.kind < line.KindAttemptAgreement
	if root.was != nil {
		if err := r.w.exec(endHouse, known, root.seq); err != nil {
			return err
		}
		r.noteHouse(*root.was)
	}
	switch b := e.Body.(type) {
	case line.Void:
		return nil
	case line.Correction:
		e = b.Replacement
	}
	about, ward := "", line.Key(0)
	switch b := e.Body.(type) {
	case line.Ward:
		about, ward = string(b.Ward), r.WardKey(b.Ward)
		r.change.ward(ward)
	case line.Account:
		about = string(b.Account)
	case line.OperatorLink:
		about = string(b.Account)
	case line.AttemptAgreement:
		about = string(b.Version)
	case line.RecordShare:
		about = string(b.Share)
	}
	r.noteHouse(e)
	return r.w.exec(insertHouse, known, root.seq, int64(e.Kind), about, int64(ward))
}

// noteHouse notes what is to be made anew.
func (r *recording) noteHouse(e line.Entry) {
	switch b := e.Body.(type) {
	case line.Account:
		r.people[b.Account] = true
	case line.OperatorLink:
		r.links[b.Account] = true
	case line.AttemptAgreement:
		r.answered[b.Version] = true
	case line.RecordShare:
		r.shares[b.Share] = true
	}
}

// settleHouse makes the touched accounts and accepted names anew.
func (r *recording) settleHouse() error {
	for id := range r.people {
		if err := r.settleAccount(id); err != nil {
			return err
		}
	}
	for id := range r.links {
		if err := r.settleLinks(id); err != nil {
			return err
		}
	}
	if r.asRecorded {
		return nil
	}
	for id := range r.people {
		other, ok, err := one(background, r.w, signInTaken, value[string], string(id))
		if err != nil {
			return err
		}
		if ok {
			return &fault.Error{Kind: fault.Conflict, Key: "store.sign-in-taken", Args: []any{"sign_in", other},
				Fields: fault.Fields{"sign_in": {Key: "store.sign-in-taken", Args: []any{"sign_in", other}}}}
		}
	}
	return nil
}

// about gives what stands of one kind about one account, version or share, in order.
func (r *recording) about(kind line.Kind, about line.ID) ([]line.Entry, error) {
	rows, err := all(background, r.w, houseAbout, scanHouse, int64(kind), string(about))
	if err != nil {
		return nil, err
	}
	list := make([]line.Entry, len(rows))
	for i, row := range rows {
		if list[i], err = row.open(background, r.w); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// bodies gives the bodies of what stands of one kind about something.
func bodies[B line.Body](r *recording, kind line.Kind, about line.ID) ([]B, error) {
	entries, err := r.about(kind, about)
	var list []B
	for _, e := range entries {
		if b, ok := e.Body.(B); ok {
			list = append(list, b)
		}
	}
	return list, err
}

// settleAccount makes an account as its latest entry that stands has it.
func (r *recording) settleAccount(id line.ID) error {
	list, err := bodies[line.Account](r, line.KindAccount, id)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		return r.w.exec(deleteAccount, string(id))
	}
	a := list[len(list)-1]
	return r.w.exec(insertAccount, string(id), asWritten(a.SignIn), string(a.Name), string(a.Initials), a.Role, a.Closed)
}

// settleLinks makes the names that the account accepts: for each name the
// latest link that stands counts.
func (r *recording) settleLinks(id line.ID) error {
	list, err := bodies[line.OperatorLink](r, line.KindOperatorLink, id)
	if err != nil {
		return err
	}
	accepted := map[string]bool{}
	for _, l := range list {
		accepted[asWritten(string(l.Written))] = l.Accepted == line.Yes
	}
	if err := r.w.exec(deleteAccepted, string(id)); err != nil {
		return err
	}
	for name, yes := range accepted {
		if yes && name != "" {
			if err := r.w.exec(insertAccepted, string(id), name); err != nil {
				return err
			}
		}
	}
	return nil
}

// houseRow is one version of an entry of the house; its seq is that of the version.
type houseRow struct {
	stored
	ward line.Key
	gone int64
}

func scanHouse(row scan) (houseRow, error) {
	var h houseRow
	return h, row(&h.seq, &h.root, &h.id, &h.canonical, &h.ward, &h.gone)
}

// open reads the version: of a correction, the replacement.
func (h houseRow) open(ctx context.Context, a asker) (line.Entry, error) {
	e, err := h.stored.open(ctx, a)
	if c, ok := e.Body.(line.Correction); ok {
		c.Replacement.Recorded = e.Recorded
		c.Replacement.ID = h.id
		return c.Replacement, err
	}
	return e, err
}

// House gives every version of the house's own entries, in the order of their
// places: policies, wards, the hospital, accounts, links; not what people say of
// their own records. A corrected one has the id and the place it always had.
// Those with Gone 0 stand.
func (s *Store) House(ctx context.Context) ([]line.HouseEntry, error) {
	snap, err := s.snapshot(ctx)
	if err != nil {
		return nil, err
	}
	defer snap.done()
	rows, err := all(ctx, snap, houseVersions, scanHouse, int64(line.KindAttemptAgreement))
	if err != nil {
		return nil, err
	}
	list := make([]line.HouseEntry, len(rows))
	for i, row := range rows {
		s.decoded.Add(1)
		e, err := row.open(ctx, snap)
		if err != nil {
			return nil, err
		}
		list[i] = line.HouseEntry{Seq: row.root, Known: row.seq, Gone: row.gone, Entry: e, WardKey: row.ward}
	}
	return list, nil
}

// WardKeys gives the keys of all wards that any entry names.
func (s *Store) WardKeys(ctx context.Context) (map[line.ID]line.Key, error) {
	keys := map[line.ID]line.Key{}
	err := each(ctx, s, wardKeysAll, func(row scan) error {
		var key line.Key
		var id line.ID
		err := row(&key, &id)
		keys[id] = key
		return err
	})
	return keys, err
}

func scanAccount(row scan) (account.Account, error) {
	var a account.Account
	return a, row(&a.ID, &a.SignIn, &a.Name, &a.Initials, &a.Role, &a.Closed)
}

// Accounts gives all accounts, closed ones too, by sign-in name.
func (s *Store) Accounts(ctx context.Context) ([]account.Account, error) {
	return all(ctx, s, accounts, scanAccount)
}

// Account gives one account. NotFound: store.no-account.
func (s *Store) Account(ctx context.Context, id line.ID) (account.Account, error) {
	return found(ctx, s, accountByID, scanAccount, "store.no-account", string(id))
}

// AccountBySignIn gives the account with the sign-in name, in any case; where
// an open and a closed one have it, the open one. NotFound: store.no-account.
func (s *Store) AccountBySignIn(ctx context.Context, name string) (account.Account, error) {
	return found(ctx, s, accountBySignIn, scanAccount, "store.no-account", asWritten(strings.TrimSpace(name)))
}

const accountColumns = "id, sign_in, name, initials, role, closed"

var (
	insertHouse = stated(writing, "insert an entry of the house", "INSERT INTO house (known, root, gone, kind, about, ward) VALUES (?, ?, 0, ?, ?, ?)")
	endHouse    = stated(writing, "end an entry of the house", "UPDATE house SET gone = ? WHERE root = ? AND gone = 0")
	houseAbout  = stated(reading, "read the entries about an account, version or share", `SELECT e.seq, h.root, o.id, e.canonical, h.ward, h.gone
		FROM house h JOIN entry e ON e.seq = h.known JOIN entry o ON o.seq = h.root
		WHERE h.kind = ? AND h.about = ? AND h.gone = 0 ORDER BY h.root`)
	houseVersions = stated(reading, "read the house", `SELECT e.seq, h.root, o.id, e.canonical, h.ward, h.gone
		FROM house h INDEXED BY house_about CROSS JOIN entry e CROSS JOIN entry o WHERE e.seq = h.known AND o.seq = h.root AND h.kind < ? ORDER BY h.root, h.known`)
	wardKeysAll   = stated(reading, "read the wards' keys", "SELECT key, id FROM ward_key")
	insertAccount = stated(writing, "write an account", "INSERT OR REPLACE INTO account ("+accountColumns+") VALUES (?, ?, ?, ?, ?, ?)")
	deleteAccount = stated(writing, "delete an account", "DELETE FROM account WHERE id = ?")
	signInTaken   = stated(reading, "look for a sign-in name that is taken", `SELECT a.sign_in FROM account a JOIN account o
		ON o.sign_in = a.sign_in AND o.id <> a.id WHERE a.id = ? AND NOT a.closed AND NOT o.closed`)
	deleteAccepted  = stated(writing, "delete accepted names", "DELETE FROM accepted_name WHERE account = ?")
	insertAccepted  = stated(writing, "insert an accepted name", "INSERT INTO accepted_name (account, written) VALUES (?, ?)")
	accounts        = stated(reading, "read the accounts", "SELECT "+accountColumns+" FROM account ORDER BY sign_in, id")
	accountByID     = stated(reading, "read an account", "SELECT "+accountColumns+" FROM account WHERE id = ?")
	accountBySignIn = stated(reading, "find an account", "SELECT "+accountColumns+" FROM account WHERE sign_in = ? ORDER BY closed, id LIMIT 1")
)
