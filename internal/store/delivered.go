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
		return change{}, w.exec(noteDelivered, d.ID, d.Account, d.Device, d.At.UnixMilli(),
			d.Captured.UnixMilli(), d.Sent.UnixMilli(), waiting != nil)
	})
}

// Delivered gives what was handed over under the id; ok is false where nothing was.
func (s *Store) Delivered(ctx context.Context, id string) (d account.Delivered, ok bool, err error) {
	return one(ctx, s, deliveredAs, func(row scan) (account.Delivered, error) {
		var d account.Delivered
		var ms, captured, sent int64
		err := row(&d.ID, &d.Account, &d.Device, &ms, &captured, &sent, &d.Waiting)
		d.At, d.Captured, d.Sent = time.UnixMilli(ms).UTC(), time.UnixMilli(captured).UTC(), time.UnixMilli(sent).UTC()
		return d, err
	}, id)
}

var (
	noteDelivered = stated(writing, "note a delivery",
		"INSERT INTO delivered (id, account, device, at_ms, captured_ms, sent_ms, waiting) VALUES (?, ?, ?, ?, ?, ?, ?)")
	deliveredAs = stated(reading, "read a delivery", "SELECT id, account, device, at_ms, captured_ms, sent_ms, waiting FROM delivered WHERE id = ?")
)
