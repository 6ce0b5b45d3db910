package app_test

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// fourWeeks is the last four weeks of a hospital with 100,000 lines and
// 1,000,000 entries a year: 7,700 lines of ten entries or so, on 40 wards.
func fourWeeks(b *testing.B, s *store.Store, now line.Minute) {
	const lines, wards = 7700, 40
	var batch []line.SealedEntry
	salt := 0
	flush := func() {
		_, err := s.AppendSealed(b.Context(), batch)
		require.NoError(b, err)
		batch = batch[:0]
	}
	add := func(at line.Minute, subject, on line.ID, body line.Body) {
		salt++
		e := line.Entry{
			ID: line.ID(fmt.Sprintf("e%d", salt)), Kind: body.Kind(), Subject: subject, Line: on, Happened: at, Precision: line.ToMinute,
			Author: "system", Version: line.FormatVersion, Recorded: at.Time(), Body: body,
		}
		canonical, texts, err := line.Canonical(e, func() string { return fmt.Sprint("salt", salt) })
		require.NoError(b, err)
		if batch = append(batch, line.SealedEntry{Canonical: canonical, Texts: texts}); len(batch) == 1000 {
			flush()
		}
	}
	for w := range wards {
		id := line.ID(fmt.Sprintf("ward-%d", w))
		add(now-60*24*60, "", "", line.Ward{Ward: id, Name: string(id), Zone: "Europe/London"})
	}
	for n := range lines {
		p, l := line.ID(fmt.Sprintf("p%d", n)), line.ID(fmt.Sprintf("l%d", n))
		at := now - 28*24*60 + line.Minute(n*25*24*60/lines)
		add(at, p, "", line.Admission{Ward: line.ID(fmt.Sprintf("ward-%d", n%wards)), Bed: "1"})
		add(at+30, p, l, line.Occasion{
			Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Dressing: line.Film,
			Attempts: []line.Attempt{{Operator: line.Operator{Account: "system"}}},
		})
		for i := range line.Minute(6) {
			add(at+400+i*720, p, l, line.Review{Needed: line.Yes, Dressing: line.SetOf(line.Intact)})
		}
		add(at+72*60, p, l, line.Removal{Reason: line.NotNeeded, Complete: line.Yes})
		add(at+73*60, p, "", line.Discharge{})
	}
	flush()
}

// BenchmarkTryPolicy tries a policy on four weeks of a large hospital. Aim:
// under 2 s.
func BenchmarkTryPolicy(b *testing.B) {
	clock := func() time.Time { return time.Date(2026, 11, 2, 12, 0, 0, 0, time.UTC) }
	s, err := store.Open(b.Context(), filepath.Join(b.TempDir(), "record.db"), store.Options{Clock: clock})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, s.Close()) })
	d := desk.New(s, clock)
	fourWeeks(b, s, d.Now())
	p, err := audit.ParsePolicy("ours", []byte("[review-overdue]\nevery = \"8h\"\n"))
	require.NoError(b, err)
	duties := 0
	for b.Loop() {
		trial, err := d.TryPolicy(b.Context(), desk.System(), desk.TrialQuestion{Policy: p, Weeks: 4})
		require.NoError(b, err)
		require.Len(b, trial.Wards, 40)
		for _, r := range trial.Rules {
			duties += r.Sum.DutiesAfter + r.Sum.DutiesBefore
		}
	}
	b.ReportMetric(float64(duties)/float64(b.N), "duties")
}
