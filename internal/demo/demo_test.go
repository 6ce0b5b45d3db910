package demo_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/demo"
	"dwellbook/internal/line"
)

func moments(t *testing.T) []time.Time {
	t.Helper()
	var all []time.Time
	for _, s := range []string{
		"2026-11-25T15:10:00Z", "2026-06-03T02:00:00Z", "2026-06-03T06:40:00Z",
		"2026-03-29T02:30:00Z", "2026-10-25T01:30:00Z", // just after the clocks change in Europe/London
	} {
		at, err := time.Parse(time.RFC3339, s)
		require.NoError(t, err)
		all = append(all, at)
	}
	return all
}

func TestGenerate_IsTheSameForTheSameSeed(t *testing.T) {
	t.Parallel()
	o := demo.Options{Seed: 7, Now: moments(t)[0]}
	a, err := demo.Generate(o)
	require.NoError(t, err)
	b, err := demo.Generate(o)
	require.NoError(t, err)
	require.Equal(t, a, b)
	o.Seed = 8
	c, err := demo.Generate(o)
	require.NoError(t, err)
	require.NotEqual(t, a.Entries[len(a.Entries)-1].ID, c.Entries[len(c.Entries)-1].ID)
}

// keys numbers ids as a database would.
type keys struct{ subjects, lines, wards map[line.ID]line.Key }

func number(m map[line.ID]line.Key, id line.ID) line.Key {
	if m[id] == 0 {
		m[id] = line.Key(len(m) + 1)
	}
	return m[id]
}

func (k keys) SubjectKey(id line.ID) line.Key { return number(k.subjects, id) }
func (k keys) LineKey(id line.ID) line.Key    { return number(k.lines, id) }
func (k keys) WardKey(id line.ID) line.Key    { return number(k.wards, id) }

func TestGenerate_MakesAHospitalThatCanBe(t *testing.T) {
	t.Parallel()
	for i, now := range moments(t) {
		h, err := demo.Generate(demo.Options{Seed: uint64(i), Now: now})
		require.NoError(t, err)
		k := keys{map[line.ID]line.Key{}, map[line.ID]line.Key{}, map[line.ID]line.Key{}}
		marks := map[line.ID][]line.Mark{}
		var last time.Time
		for n, e := range h.Entries {
			require.Empty(t, line.Check(e, line.MinuteOf(now)), "entry %d at %s", n, now)
			require.False(t, e.Recorded.Before(last), "entry %d at %s is recorded before the one ahead of it", n, now)
			last = e.Recorded
			if e.Subject != "" {
				marks[e.Subject] = append(marks[e.Subject], line.Marks(e, k, int64(n), int64(n))...)
			}
		}
		in := 0
		for id, m := range marks {
			s := line.Fold(m)
			require.Empty(t, s.Conflicts, "patient %s at %s", id, now)
			for _, l := range s.Lines {
				if l.Removal == nil {
					in++
				}
			}
		}
		require.GreaterOrEqual(t, in, 120, "lines in at %s", now)
		require.LessOrEqual(t, in, 200, "lines in at %s", now)
		require.Greater(t, len(h.Entries), 10_000)
		require.Less(t, len(h.Entries), 60_000)
		t.Logf("%s: %d entries, %d lines in", now, len(h.Entries), in)
	}
}
