package store

import (
	"context"
	"time"

	"dwellbook/internal/account"
)

// NoteDelivered notes what a device has handed over; what waits becomes a
// draft in the same transaction.
func (s *Store) NoteDelivered(ctx context.Context, d account.Delivered, waiting *account.Draft) error {
	return s.write(ctx, func(w *writer) (change, error) {
		if waiting != nil {
			if err := w.keepDraft(*waiting); err != nil {
				return change{}, err
			}
		}
		return change{}, w.exec(noteDelivered, d.ID, d.Account, d.Device, d.Captured.UnixMilli(), d.Sent.UnixMilli(),
			d.Ahead.Milliseconds(), d.At.UnixMilli(), d.Waiting, d.Reason)
	})
}

// Delivered gives what was handed over under the id; ok is false where nothing was.
func (s *Store) Delivered(ctx context.Context, id string) (d account.Delivered, ok bool, err error) {
	return one(ctx, s, deliveredAs, func(row scan) (account.Delivered, error) {
		var d account.Delivered
		var c carriedRow
		var ms int64
		err := row(append([]any{&d.ID, &d.Account, &ms, &d.Waiting}, c.columns()...)...)
		d.At, d.Carried = time.UnixMilli(ms).UTC(), c.carried()
		return d, err
	}, id)
}

// carriedRow is the columns that say how a device carried a form.
type carriedRow struct {
	device, reason        string
	captured, sent, ahead int64
}

func (c *carriedRow) columns() []any {
	return []any{&c.device, &c.captured, &c.sent, &c.ahead, &c.reason}
}

func (c *carriedRow) carried() account.Carried {
	return account.Carried{
		Device: c.device, Captured: time.UnixMilli(c.captured).UTC(), Sent: time.UnixMilli(c.sent).UTC(),
		Ahead: time.Duration(c.ahead) * time.Millisecond, Reason: c.reason,
	}
}

var (
	noteDelivered = stated(writing, "note a delivery", `INSERT INTO delivered
		(id, account, device, captured_ms, sent_ms, ahead_ms, at_ms, waiting, reason) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`)
	deliveredAs = stated(reading, "read a delivery",
		"SELECT id, account, at_ms, waiting, device, captured_ms, sent_ms, ahead_ms, reason FROM delivered WHERE id = ?")
)
