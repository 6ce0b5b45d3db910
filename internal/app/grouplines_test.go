package app_test

import (
	"encoding/csv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// Of one line in two wards, each group opens to the line with the group's own
// counts: no more, no less.
func TestGroupLines_AddUpToTheirGroup(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead, nurse := s.person(t, "person-lead"), s.person(t, "person-nurse")
	require.NoError(t, s.app.Desk.SetWard(t.Context(), desk.System(), line.Ward{Ward: "birch", Name: "Birch", Zone: "Europe/London", Beds: []string{"9"}}))
	s.now = s.now.Add(30 * time.Hour)
	move := line.Transfer{Ward: "birch", Bed: "9"}
	_, err := s.app.Desk.Record(t.Context(), nurse, desk.Act{Entries: []line.Entry{{
		ID: "move-1", Kind: move.Kind(), Subject: "patient-1", Happened: s.app.Desk.Now(), Precision: line.ToMinute, Body: move,
	}}})
	require.NoError(t, err)
	s.now = s.now.Add(40 * time.Hour)
	q := desk.PeriodQuestion{Period: line.Stretch{From: s.app.Desk.Now() - 7*24*60, Until: s.app.Desk.Now()}}
	opened := 0
	for _, q.By = range []audit.By{audit.ByRule, audit.ByWard, audit.ByShift, audit.ByWeekday} {
		c, err := s.app.Desk.Compliance(t.Context(), lead, q)
		require.NoError(t, err)
		for i := range c.Groups {
			g := &c.Groups[i]
			name := c.NameOf(t.Context(), g.Rule, g.Slot)
			detailed, err := s.app.Desk.Detailed(t.Context(), lead, q, g.Rule, name.ID)
			require.NoError(t, err)
			require.Equal(t, c.Groups, detailed.Groups)
			lines := detailed.Opened
			if g.MetLate+g.Missed+g.Open == 0 && g.Overdue+g.Unaccounted == 0 {
				require.Zero(t, lines.Of)
				continue
			}
			opened++
			require.Equal(t, 1, lines.Of, "%s %s", g.Rule, name.Name)
			got := lines.Lines[0]
			require.Equal(t, line.ID("line-1"), got.Current.ID)
			require.Equal(t, [5]int{g.Due(), g.MetInTime, g.MetLate, g.Missed, g.Open}, [5]int{got.Due(), got.MetInTime, got.MetLate, got.Missed, got.Open})
			require.Equal(t, g.Overdue, got.Overdue)
			require.Equal(t, g.Unaccounted, got.Unaccounted)
		}
	}
	require.Greater(t, opened, 6)
}

// The page opens a group to its line, and the table for a spreadsheet holds
// the same groups as the page.
func TestCompliancePage_OpensAGroupAndDownloadsIt(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.now = s.now.Add(40 * time.Hour)
	lead := s.client(t, account.Lead)
	page := body(t, lead, s.server.URL+"/compliance?by=ward&group=alder")
	require.Contains(t, page, "Alder: the lines")
	require.Contains(t, page, `href="/lines/line-1"`)
	require.NotContains(t, body(t, lead, s.server.URL+"/compliance?by=ward&group=nowhere"), ": the lines")

	rows, err := csv.NewReader(strings.NewReader(body(t, lead, s.server.URL+"/compliance.csv?by=ward"))).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 2, "the head and the one ward, of looks alone as on the page")
	require.Equal(t, []string{"Alder", "review-overdue"}, rows[1][:2])
}
