package app

import (
	"context"
	"fmt"
	"io"
	"time"

	"dwellbook/internal/desk"
	"dwellbook/web/view"
)

// ReportQuery is what the report command is asked, as typed.
type ReportQuery struct{ DB, Month, KnownAt string }

// Report writes a month's report as one HTML file that needs nothing else.
func Report(ctx context.Context, w io.Writer, q ReportQuery, clock func() time.Time) error {
	return reading(ctx, q.DB, "", clock, func(d *desk.Desk, t typed) error {
		month, err := desk.ParseMonth(q.Month, clock(), t.zone)
		if err != nil {
			return &Misuse{Text: fmt.Sprintf("-month: %q is no month; an example: 2026-10", q.Month)}
		}
		known, err := t.known(q.KnownAt)
		if err != nil {
			return err
		}
		m, err := d.Month(ctx, desk.System(), month, known)
		if err != nil {
			return err
		}
		return view.ReportFile(view.Report{Month: m}).Render(Speaking(ctx, t.hospital(), t.zone, m.Rules.At), w)
	})
}
