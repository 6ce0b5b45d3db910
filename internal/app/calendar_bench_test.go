package app_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
)

// BenchmarkCalendar makes one ward's month, with a shift opened, out of a year
// of a large hospital: 100,000 lines in 20 wards. Aim: under 150 ms.
func BenchmarkCalendar(b *testing.B) {
	d := askedOf(b, yearsFile(b, 1, 100_000))
	month := present.AddDate(0, -1, 0)
	q := desk.CalendarQuestion{Ward: wardOfYear(3), Month: month, Rule: audit.ReviewOverdue}
	first, err := d.Calendar(b.Context(), desk.System(), q)
	require.NoError(b, err)
	q.Shift = first.Days[9].Cells[0][0].From
	var asked int
	for b.Loop() {
		c, err := d.Calendar(b.Context(), desk.System(), q)
		require.NoError(b, err)
		require.NotNil(b, c.Opened)
		require.NotEmpty(b, c.Opened.Duties)
		asked = 0
		for _, total := range c.Totals {
			asked += total.Asked()
		}
	}
	b.ReportMetric(float64(asked), "duties")
}
