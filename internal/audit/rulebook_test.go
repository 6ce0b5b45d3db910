package audit_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

func utc(text string) line.Minute {
	t, err := time.Parse("2006-01-02 15:04", text)
	if err != nil {
		panic(err)
	}
	return line.MinuteOf(t)
}

func oneWard(shifts ...line.ShiftTime) *audit.Rulebook {
	return audit.NewRulebook([]audit.Change{{Ward: 1, Values: audit.WardValues{Zone: london, Shifts: shifts}}})
}

// The nights of both clock changes in Europe/London: on 29 March 2026 clocks go
// forward at 01:00 UTC, on 25 October 2026 back at 01:00 UTC.
func TestShiftAt_OverClockChanges(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name        string
		shifts      []line.ShiftTime
		at          string
		from, until string // UTC
		hours       float64
	}{
		{"a plain night", nil, "2026-01-12 23:00", "2026-01-12 19:30", "2026-01-13 07:30", 12},
		{"the night the clocks go forward", nil, "2026-03-29 00:30", "2026-03-28 19:30", "2026-03-29 06:30", 11},
		{"the night the clocks go back", nil, "2026-10-25 00:30", "2026-10-24 18:30", "2026-10-25 07:30", 13},
		{"its first minute", nil, "2026-10-24 18:30", "2026-10-24 18:30", "2026-10-25 07:30", 13},
		{"the minute before", nil, "2026-10-24 18:29", "2026-10-24 06:30", "2026-10-24 18:30", 12},
		{"a boundary in the hour that comes twice is the first", []line.ShiftTime{90, 810}, "2026-10-25 00:30", "2026-10-25 00:30", "2026-10-25 13:30", 13},
		{"and the second is in the shift", []line.ShiftTime{90, 810}, "2026-10-25 01:30", "2026-10-25 00:30", "2026-10-25 13:30", 13},
		{"a boundary in the hour that is skipped is the first moment after", []line.ShiftTime{90, 810}, "2026-03-29 01:00", "2026-03-29 01:00", "2026-03-29 12:30", 11.5},
		{"two of them in it make one", []line.ShiftTime{75, 90, 810}, "2026-03-29 01:00", "2026-03-29 01:00", "2026-03-29 12:30", 11.5},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got := oneWard(tt.shifts...).ShiftAt(1, utc(tt.at))
			require.Equal(t, line.Stretch{From: utc(tt.from), Until: utc(tt.until)}, got)
			require.InDelta(t, tt.hours, got.Until.Sub(got.From).Hours(), 0)
		})
	}
}

func TestShiftAt_NewTimesHoldFromTheirMoment(t *testing.T) {
	t.Parallel()
	book := audit.NewRulebook([]audit.Change{
		{Ward: 1, Values: audit.WardValues{Zone: time.UTC}},
		{Ward: 1, From: utc("2026-03-02 12:00"), Known: 7, Values: audit.WardValues{Zone: time.UTC, Shifts: []line.ShiftTime{420, 1140}}},
	})
	require.Equal(t, line.Stretch{From: utc("2026-03-02 07:30"), Until: utc("2026-03-02 19:00")}, book.ShiftAt(1, utc("2026-03-02 10:00")))
	require.Equal(t, line.Stretch{From: utc("2026-03-02 07:30"), Until: utc("2026-03-02 19:00")}, book.ShiftAt(1, utc("2026-03-02 15:00")))
	require.Equal(t, line.Stretch{From: utc("2026-03-02 19:00"), Until: utc("2026-03-03 07:00")}, book.ShiftAt(1, utc("2026-03-02 19:00")))
	before := book.KnownAt(6)
	require.Equal(t, line.Stretch{From: utc("2026-03-02 07:30"), Until: utc("2026-03-02 19:30")}, before.ShiftAt(1, utc("2026-03-02 15:00")))
}

func TestNights(t *testing.T) {
	t.Parallel()
	got := oneWard().Nights(1, utc("2026-10-24 12:00"), utc("2026-10-26 00:00"))
	require.Equal(t, []line.Stretch{
		{From: utc("2026-10-24 18:30"), Until: utc("2026-10-25 07:30")}, {From: utc("2026-10-25 19:30"), Until: utc("2026-10-26 00:00")},
	}, got)
	early := oneWard(299, 300, 1079, 1080).Nights(1, utc("2026-01-12 00:00"), utc("2026-01-13 00:00"))
	require.Equal(t, []line.Stretch{
		{From: utc("2026-01-12 00:00"), Until: utc("2026-01-12 04:59")}, {From: utc("2026-01-12 04:59"), Until: utc("2026-01-12 05:00")},
		{From: utc("2026-01-12 18:00"), Until: utc("2026-01-13 00:00")},
	}, early)
}

func TestRulebook_PolicyAt(t *testing.T) {
	t.Parallel()
	parse := func(text string) *audit.Policy {
		p, err := audit.ParsePolicy("test", []byte(text))
		require.NoError(t, err)
		return p
	}
	first, second, third := parse("# 1"), parse("# 2"), parse("# 3")
	book := audit.NewRulebook([]audit.Change{{From: 200, Known: 3, Policy: third}, {From: 200, Known: 2, Policy: second}, {From: 100, Known: 1, Policy: first}})
	require.Same(t, audit.DefaultPolicy(), book.PolicyAt(99))
	require.Same(t, first, book.PolicyAt(100))
	require.Same(t, first, book.PolicyAt(199))
	require.Same(t, third, book.PolicyAt(200), "of one moment the one known last")
	require.Same(t, second, book.KnownAt(2).PolicyAt(200))
	require.Same(t, first, book.KnownAt(1).PolicyAt(200))
	require.Same(t, second, book.WithPolicy(second).PolicyAt(0))
	require.Same(t, second, book.WithPolicy(second).PolicyAt(1000))
	require.Equal(t, time.UTC, book.Zone(9))
	require.Equal(t, london, oneWard().Zone(1))
}

func TestKnownAt_SeesWhatACorrectionReplaced(t *testing.T) {
	t.Parallel()
	shifts := func(first line.ShiftTime) audit.WardValues {
		return audit.WardValues{Zone: time.UTC, Shifts: []line.ShiftTime{first, first + 720}}
	}
	first, second := &audit.Policy{}, &audit.Policy{}
	book := audit.NewRulebook([]audit.Change{
		{Ward: 1, Seq: 1, Known: 1, Gone: 5, Values: shifts(360)},
		{Ward: 1, Seq: 1, Known: 5, Values: shifts(420)},
		{Policy: first, From: 100, Seq: 2, Known: 2, Gone: 6},
		{Policy: second, From: 100, Seq: 3, Known: 3, Gone: 7},
		{Policy: first, From: 100, Seq: 2, Known: 6},
	})
	starts := func(b *audit.Rulebook) string {
		return b.ShiftAt(1, utc("2026-03-02 10:00")).From.Time().Format("15:04")
	}
	require.Equal(t, "07:00", starts(book))
	require.Equal(t, "07:00", starts(book.KnownAt(5)))
	require.Equal(t, "06:00", starts(book.KnownAt(4)))
	require.Equal(t, "06:00", starts(book.KnownAt(4).WithPolicy(audit.DefaultPolicy())), "a trial knows no more")
	require.Same(t, first, book.KnownAt(2).PolicyAt(100))
	require.Same(t, second, book.KnownAt(3).PolicyAt(100))
	require.Same(t, second, book.KnownAt(6).PolicyAt(100), "corrected, it keeps its place")
	require.Same(t, first, book.PolicyAt(100), "the other was withdrawn")
}

// The policies of a stretch are those that were in force in it, as known then:
// one that was corrected away afterwards was still in force.
func TestPoliciesIn_AreThoseInForceAsKnown(t *testing.T) {
	t.Parallel()
	policy := func(text string) *audit.Policy {
		p, err := audit.ParsePolicy("p", []byte("# "+text+"\n"))
		require.NoError(t, err)
		return p
	}
	first, wrong, right := policy("first"), policy("wrong"), policy("right")
	book := audit.NewRulebook([]audit.Change{
		{From: 100, Seq: 1, Known: 1, Policy: first}, {From: 200, Seq: 2, Known: 2, Gone: 3, Policy: wrong}, {From: 300, Seq: 2, Known: 3, Policy: right},
	})
	names := func(b *audit.Rulebook, from, until line.Minute) (list []string) {
		for _, p := range b.PoliciesIn(line.Stretch{From: from, Until: until}) {
			list = append(list, p.Name())
		}
		return list
	}
	require.Equal(t, []string{audit.DefaultPolicy().Name(), first.Name()}, names(book, 50, 101))
	require.Equal(t, []string{first.Name()}, names(book, 100, 300), "the end is not part of it")
	require.Equal(t, []string{first.Name(), right.Name()}, names(book, 100, 301))
	require.Equal(t, []string{first.Name(), wrong.Name()}, names(book.KnownAt(2), 100, 301), "as known before the correction")
}
