package app_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/store"
)

// yearsFile gives a record of so many years with so many lines a year in 20
// wards, ten entries a line: an admission, a placement, seven reviews, a removal.
func yearsFile(b *testing.B, years, linesAYear int) string {
	b.Helper()
	return kept(b, fmt.Sprintf("years-%d-%d", years, linesAYear), func(path string) {
		st, err := store.Open(b.Context(), path, store.Options{Clock: presentClock})
		require.NoError(b, err)
		var entries []line.SealedEntry
		put := func(e line.Entry) {
			e.Version, e.Author, e.Precision, e.Kind, e.Recorded = line.FormatVersion, "nurse", line.ToMinute, e.Body.Kind(), e.Happened.Time()
			raw, texts, err := line.Canonical(e, func() string { return "salt" })
			require.NoError(b, err)
			entries = append(entries, line.SealedEntry{Canonical: raw, Texts: texts})
		}
		for w := range wardsOfYear {
			put(line.Entry{ID: wardOfYear(w) + ".made", Happened: line.MinuteOf(present) - line.Minute(years+1)*year,
				Body: line.Ward{Ward: wardOfYear(w), Name: string(wardOfYear(w)), Zone: "Europe/London"}})
		}
		for i := range years * linesAYear {
			placed := line.MinuteOf(present) - line.Minute(years)*year + line.Minute(int64(i)*int64(years)*year/int64(years*linesAYear))
			lineOfYear(put, i, placed)
			if len(entries) >= portion {
				_, err := st.AppendSealed(context.Background(), entries)
				require.NoError(b, err)
				entries = entries[:0]
			}
		}
		_, err = st.AppendSealed(context.Background(), entries)
		require.NoError(b, err)
		require.NoError(b, st.Close())
	})
}

const (
	year        = 365 * 24 * 60 // minutes
	wardsOfYear = 20
)

func wardOfYear(w int) line.ID { return line.ID(fmt.Sprintf("ward-%02d", w)) }

// lineOfYear puts one patient's ten entries. Each ward's nights look late now and then.
func lineOfYear(put func(line.Entry), i int, placed line.Minute) {
	id := line.ID(fmt.Sprintf("%07d", i))
	patient := "p" + id
	put(line.Entry{ID: id + ".adm", Subject: patient, Happened: placed - 60, Body: line.Admission{Ward: wardOfYear(i % wardsOfYear)}})
	put(line.Entry{ID: id + ".in", Subject: patient, Line: id, Happened: placed, Body: occasion})
	for r := range line.Minute(7) {
		needed := line.Answer(0)
		if r%2 == 0 {
			needed = line.Yes
		}
		put(line.Entry{ID: line.ID(fmt.Sprintf("%s.%d", id, r)), Subject: patient, Line: id, Happened: placed + 600 + r*720 + line.Minute(i%7)*30, Body: line.Review{
			Dressing: line.SetOf(line.Intact), Needed: needed,
		}})
	}
	put(line.Entry{ID: id + ".out", Subject: patient, Line: id, Happened: placed + 5600, Body: line.Removal{Reason: line.NotNeeded}})
}

// askedOf opens a record for reading, with nothing remembered.
func askedOf(b *testing.B, file string) *desk.Desk {
	st, err := store.OpenReadOnly(b.Context(), file)
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, st.Close()) })
	return desk.New(st, presentClock)
}

func lastDays(days int) line.Stretch {
	now := line.MinuteOf(present)
	return line.Stretch{From: now - line.Minute(days)*24*60, Until: now}
}

// BenchmarkYear counts the compliance of a whole year of a large hospital,
// 100,000 lines and 1,000,000 entries, by ward. Aim: under 3 s.
func BenchmarkYear(b *testing.B) {
	d := askedOf(b, yearsFile(b, 1, 100_000))
	duties := 0
	b.ReportAllocs()
	for b.Loop() {
		c, err := d.Compliance(b.Context(), desk.System(), desk.PeriodQuestion{Period: lastDays(365), By: audit.ByWard})
		require.NoError(b, err)
		for i := range c.Groups {
			duties += c.Groups[i].Due()
		}
	}
	b.ReportMetric(float64(duties)/b.Elapsed().Seconds(), "duties/s")
}

// BenchmarkOutcomes reads what became of a year's 100,000 lines, and tells it by
// site and by ward with the chart of phlebitis.
func BenchmarkOutcomes(b *testing.B) {
	d := askedOf(b, yearsFile(b, 1, 100_000))
	b.ReportAllocs()
	for b.Loop() {
		o, err := d.Outcomes(b.Context(), desk.System(), lastDays(365), false)
		require.NoError(b, err)
		for _, by := range []outcomes.By{outcomes.BySite, outcomes.ByWard} {
			c, err := o.Courses(by, outcomes.Placed)
			require.NoError(b, err)
			require.NotEmpty(b, c.Groups)
		}
		require.NotEmpty(b, o.Watch(outcomes.PhlebitisAtRemoval).Periods)
	}
}

// BenchmarkMonthReport makes a month's whole report of the large hospital.
func BenchmarkMonthReport(b *testing.B) {
	d := askedOf(b, yearsFile(b, 1, 100_000))
	for b.Loop() {
		_, err := d.Month(b.Context(), desk.System(), time.Date(2025, 10, 1, 0, 0, 0, 0, time.UTC), desk.Known{})
		require.NoError(b, err)
	}
}

// BenchmarkMonthOfMany compares a month out of ten years with a month out of
// one, in records with as many lines a year: the ratio of their rates is how
// many times as long the month out of ten takes. Aim: at most 1.5.
func BenchmarkMonthOfMany(b *testing.B) {
	side := func(years int) func(int) float64 {
		d := askedOf(b, yearsFile(b, years, 10_000))
		return func(int) float64 {
			return together(1, 3, func(_, _ int) {
				if _, err := d.Compliance(b.Context(), desk.System(), desk.PeriodQuestion{Period: lastDays(30), By: audit.ByWard}); err != nil {
					b.Error(err)
				}
			})
		}
	}
	byTurns(b, side(1), side(10))
}

// BenchmarkTrial tries a policy on the last four weeks of the large hospital. Aim: under 2 s.
func BenchmarkTrial(b *testing.B) {
	d := askedOf(b, yearsFile(b, 1, 100_000))
	p, err := audit.ParsePolicy("trial", []byte("[review-overdue]\nevery = \"8h\"\n"))
	require.NoError(b, err)
	for b.Loop() {
		trial, err := d.TryPolicy(b.Context(), desk.System(), desk.TrialQuestion{Policy: p, Weeks: 4})
		if err != nil || len(trial.Rules) == 0 {
			b.Fatal("nothing changes", err)
		}
	}
}

// BenchmarkCalendar makes one ward's month of the large hospital. Aim: under 150 ms.
func BenchmarkCalendar(b *testing.B) {
	d := askedOf(b, yearsFile(b, 1, 100_000))
	for b.Loop() {
		c, err := d.Calendar(b.Context(), desk.System(), desk.CalendarQuestion{Ward: wardOfYear(3), Month: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil || len(c.Days) != 31 {
			b.Fatal(err)
		}
	}
}

// BenchmarkDetailed counts a year by ward and lists what stands below the
// groups: the longest stretches, or the lines of one ward.
func BenchmarkDetailed(b *testing.B) {
	d := askedOf(b, yearsFile(b, 1, 100_000))
	for name, group := range map[string]string{"longest": "", "lines": string(wardOfYear(3))} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				c, err := d.Detailed(b.Context(), desk.System(), desk.PeriodQuestion{Period: lastDays(365), By: audit.ByWard}, audit.ReviewOverdue, group)
				if err != nil || len(c.Groups) == 0 {
					b.Fatal(err)
				}
			}
		})
	}
}
