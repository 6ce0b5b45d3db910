package store

import (
	"context"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

// Tablets gives the wards' tablets, by name.
func (s *Store) Tablets(ctx context.Context) ([]account.Tablet, error) {
	return all(ctx, s, tablets, scanTablet)
}

// Tablet gives the tablet that a device is; ok is false where it is none.
func (s *Store) Tablet(ctx context.Context, device string) (t account.Tablet, ok bool, err error) {
	return one(ctx, s, tabletOf, scanTablet, device)
}

func scanTablet(row scan) (account.Tablet, error) {
	var t account.Tablet
	var ms int64
	err := row(&t.Device, &t.Name, &t.Author, &ms)
	t.At = time.UnixMilli(ms).UTC()
	return t, err
}

// SetTablet makes a device a tablet, or renames it.
func (s *Store) SetTablet(ctx context.Context, t account.Tablet) error {
	return s.put(ctx, setTablet, t.Device, t.Name, t.Author, t.At.UnixMilli())
}

// DropTablet makes a tablet a device like any other.
func (s *Store) DropTablet(ctx context.Context, device string) error {
	return s.put(ctx, dropTablet, device)
}

// PINHolders gives who has signed in on a device and has a PIN.
func (s *Store) PINHolders(ctx context.Context, device string) ([]line.ID, error) {
	return all(ctx, s, pinHolders, value[line.ID], device)
}

// SetPIN keeps the hash of a person's PIN.
func (s *Store) SetPIN(ctx context.Context, id line.ID, hash string) error {
	return s.put(ctx, setPIN, string(id), hash)
}

// PIN is the hash of a person's PIN; ok is false where there is none.
func (s *Store) PIN(ctx context.Context, id line.ID) (hash string, ok bool, err error) {
	return one(ctx, s, pinOf, value[string], string(id))
}

const tabletColumns = "device, name, author, at_ms"

var (
	tablets    = stated(reading, "read the tablets", "SELECT "+tabletColumns+" FROM tablet ORDER BY name, device")
	tabletOf   = stated(reading, "read a tablet", "SELECT "+tabletColumns+" FROM tablet WHERE device = ?")
	setTablet  = stated(writing, "keep a tablet", "INSERT OR REPLACE INTO tablet (device, name, author, at_ms) VALUES (?, ?, ?, ?)")
	dropTablet = stated(writing, "forget a tablet", "DELETE FROM tablet WHERE device = ?")
	pinHolders = stated(reading, "read who has a PIN on a device",
		"SELECT k.account FROM known_device k CROSS JOIN pin p ON p.account = k.account WHERE k.device = ?")
	setPIN = stated(writing, "keep a PIN", "INSERT OR REPLACE INTO pin (account, hash) VALUES (?, ?)")
	pinOf  = stated(reading, "read a PIN", "SELECT hash FROM pin WHERE account = ?")
)
