package app_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
)

// A moment given to a command reads as one moment, or is refused with examples.
func FuzzParseMoment(f *testing.F) {
	for _, s := range []string{"", "2026-03-29", "2026-10-25T01:30:00+01:00", "2026-02-30", "2026-03-02T08:20:00Z", "0000-01-01"} {
		f.Add(s)
	}
	london, err := time.LoadLocation("Europe/London")
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, text string) {
		at, err := app.ParseMoment(text, london)
		if err != nil {
			require.ErrorContains(t, err, "allowed: 2026-03-02T08:20:00Z")
			return
		}
		if day, bare := time.Parse(time.DateOnly, text); bare == nil {
			require.Equal(t, day.Format(time.DateOnly), at.In(london).Add(time.Minute).Format(time.DateOnly))
		}
	})
}
