package interop

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
)

// What is skipped for speed is only what could not have been read.
func TestPattern_FitsEveryTextItReads(t *testing.T) {
	t.Parallel()
	custom := []string{"D/M/YYYY H.mm", "DD-MMM-YY", "YYYY-DD-MM HH:mm:ss", "DDMMYYYY HHmm", "HH:mm  DD.MM.YY", "D. M. YYYY"}
	patterns := slices.Clone(standing)
	for _, shown := range custom {
		p, err := parsePattern(shown)
		require.NoError(t, err)
		patterns = append(patterns, p)
	}
	rapid.Check(t, func(t *rapid.T) {
		at := time.Unix(rapid.Int64Range(946_684_800, 1_900_000_000).Draw(t, "at"), 0).UTC()
		written := rapid.SampledFrom(patterns).Draw(t, "written")
		text := strings.Join(strings.Fields(at.Format(written.layout)), " ") + rapid.SampledFrom([]string{"", "", ".5", ",25", " ", "x"}).Draw(t, "more")
		for _, p := range patterns {
			if _, err := time.Parse(p.layout, text); err == nil {
				require.True(t, p.fits(marks(text)), "%q by %q", text, p.shown)
			}
		}
	})
}

// readTimeSlowly tries everything, in the order in which readTime prefers it.
func readTimeSlowly(cell string, patterns []pattern, zone *time.Location) (moment, bool) {
	if t, err := time.Parse(time.RFC3339, strings.ToUpper(cell)); err == nil {
		return exact(line.MinuteOf(t)), true
	}
	for _, p := range patterns {
		wall, err := time.Parse(p.layout, cell)
		if err != nil {
			continue
		}
		m, err := p.on(wall, zone, line.NotAsked, nil)
		return m, err == nil
	}
	return moment{}, false
}

func TestReadTime_IsAsWithoutShortCuts(t *testing.T) {
	t.Parallel()
	zone, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	layouts := []string{time.RFC3339, "2006-01-02t15:04:05z", "2006-01-02T15:04:05.999Z", "2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02", "2006-01-02 15:04:05", "2006-1-2 15:04"}
	rapid.Check(t, func(t *rapid.T) {
		at := time.Unix(rapid.Int64Range(946_684_800, 1_900_000_000).Draw(t, "at"), 0).In(zone)
		cell := []byte(at.Format(rapid.SampledFrom(layouts).Draw(t, "layout")))
		if rapid.Bool().Draw(t, "broken") {
			cell[rapid.IntRange(0, len(cell)-1).Draw(t, "place")] = rapid.SampledFrom([]byte("0369-:TZ x")).Draw(t, "byte")
		}
		body, _, offset := parted(string(cell))
		if offset != nil && body != string(cell) {
			t.Skip("with an offset of its own")
		}
		text := strings.Join(strings.Fields(string(cell)), " ")
		want, ok := readTimeSlowly(text, standing, zone)
		got, err := readTime(text, standing, zone)
		require.Equal(t, ok, err == nil, text)
		require.Equal(t, want, got, text)
	})
}

func TestCell_OrdinaryOnesAreReadAsTheyStand(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOf(rapid.SampledFrom([]rune(" 'aZ=~\t\u00a0\x01é,"))).Draw(t, "text")
		if ordinary(text) {
			require.Equal(t, text, strings.TrimSpace(plain(strings.TrimSpace(text))))
			require.NotContains(t, text, "\t")
			require.NotContains(t, text, "\x01")
		}
	})
	require.True(t, ordinary(strings.Repeat("x", longestCell)))
	require.False(t, ordinary(strings.Repeat("x", longestCell+1)))
}

func TestMapping_BlankWordsAreFoundHoweverTheyAreWritten(t *testing.T) {
	t.Parallel()
	for _, blank := range [][]string{blanks, {"0", "99-nil", "none"}, nil} {
		m := Mapping{blank: blank}
		rapid.Check(t, func(t *rapid.T) {
			cell := rapid.SampledFrom([]string{"", "-", "N/K", "Not  Known", "0", "99 nil", "99_NIL", "990", " none", "2026-03-02", "None"}).Draw(t, "cell")
			require.Equal(t, cell == "" || slices.Contains(blank, folded(cell)), m.isBlank(cell))
		})
	}
}
