package app_test

import (
	"net/http"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// marchCalendar is the ward's as the lead sees it. The line of the scene went in
// on Wednesday 4 March 2026 at 10:10.
func marchCalendar(t *testing.T, s *scene, q desk.CalendarQuestion) *desk.Calendar {
	t.Helper()
	q.Ward = "alder"
	c, err := s.app.Desk.Calendar(t.Context(), s.person(t, "person-lead"), q)
	require.NoError(t, err)
	return c
}

func recordLook(t *testing.T, s *scene, id line.ID, at time.Time) {
	t.Helper()
	_, err := s.app.Desk.Record(t.Context(), s.person(t, "person-nurse"), desk.Act{Entries: []line.Entry{{
		ID: id, Kind: line.KindReview, Subject: "patient-1", Line: "line-1", Happened: line.MinuteOf(at), Precision: line.ToMinute,
		Body: line.Review{Dressing: line.States(0), Needed: line.Yes},
	}}})
	require.NoError(t, err)
}

func TestCalendar_PutsEachLookOnTheDayItsShiftStarted(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	placed := s.now.Add(-5 * time.Hour)
	recordLook(t, s, "look-1", placed.Add(4*time.Hour)) // Wednesday's day shift
	s.now = time.Date(2026, 3, 6, 7, 29, 0, 0, time.UTC)
	recordLook(t, s, "look-2", s.now) // the night that started on Thursday
	s.now = time.Date(2026, 3, 6, 12, 0, 0, 0, time.UTC)
	c := marchCalendar(t, s, desk.CalendarQuestion{})
	require.Len(t, c.Days, 31)
	require.Len(t, c.Shifts, 2)
	require.Equal(t, "07:30-19:30", c.Shifts[0].String())
	require.False(t, c.Shifts[0].Night())
	require.True(t, c.Shifts[1].Night())
	cell := func(day, column int) desk.ShiftSum { return c.Days[day-1].Cells[column][0].ShiftSum }
	require.Zero(t, cell(3, 1).Asked(), "before there was a line")
	require.Equal(t, desk.ShiftSum{MetInTime: 1, Ended: 1}, cell(4, 0))
	require.Equal(t, desk.ShiftSum{Ended: 1}, cell(4, 1), "nobody looked in the night that started on the 4th")
	require.Equal(t, desk.ShiftSum{Ended: 1}, cell(5, 0))
	require.Equal(t, desk.ShiftSum{MetInTime: 1, Ended: 1}, cell(5, 1))
	require.Zero(t, cell(6, 0).Asked(), "this shift's look is not due yet")
	require.Equal(t, desk.ShiftSum{MetInTime: 1, Ended: 2}, c.Totals[1])
	require.True(t, c.Days[6].Weekend())
	require.False(t, c.Days[8].Weekend())
}

func TestCalendar_CountsWhatComplianceCounts(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.now = time.Date(2026, 4, 2, 12, 0, 0, 0, time.UTC)
	recordLook(t, s, "look-1", time.Date(2026, 3, 9, 3, 0, 0, 0, time.UTC))
	for _, rule := range []line.Rule{audit.ReviewOverdue, audit.DressingOverdue, audit.NeedDaily} {
		c := marchCalendar(t, s, desk.CalendarQuestion{Month: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC), Rule: rule})
		// From the first shift of the month to the end of its last, which is in British Summer Time.
		all, err := s.app.Desk.Compliance(t.Context(), s.person(t, "person-lead"), desk.PeriodQuestion{Period: line.Stretch{
			From: line.MinuteOf(time.Date(2026, 3, 1, 7, 31, 0, 0, time.UTC)), Until: line.MinuteOf(time.Date(2026, 4, 1, 6, 31, 0, 0, time.UTC)),
		}})
		require.NoError(t, err)
		var sum desk.ShiftSum
		for _, total := range c.Totals {
			sum.MetInTime += total.MetInTime
			sum.Ended += total.Ended
			sum.Open += total.Open
		}
		found := false
		for _, g := range all.Groups {
			if g.Rule == rule {
				found = true
				require.Equal(t, desk.ShiftSum{MetInTime: g.MetInTime, Ended: g.Decided(), Open: g.Open}, sum, "%s", rule)
			}
		}
		require.True(t, found, "%s", rule)
	}
}

func TestCalendar_FollowsTheWardsShiftTimesAndClock(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.now = time.Date(2026, 3, 16, 12, 0, 0, 0, time.UTC)
	require.NoError(t, s.app.Desk.SetWard(t.Context(), desk.System(), line.Ward{
		Ward: "alder", Name: "Alder", Zone: "Europe/London", Shifts: []line.ShiftTime{7 * 60, 14 * 60, 21 * 60},
	}))
	s.now = time.Date(2026, 4, 2, 12, 0, 0, 0, time.UTC)
	c := marchCalendar(t, s, desk.CalendarQuestion{Month: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)})
	names := []string{}
	for _, n := range c.Shifts {
		names = append(names, n.String())
	}
	require.Equal(t, []string{"07:00-14:00", "07:30-19:30", "14:00-21:00", "19:30-07:30", "21:00-07:00"}, names)
	starts := func(day int) (list []string) {
		for _, cells := range c.Days[day-1].Cells {
			for _, cell := range cells {
				list = append(list, cell.From.Time().In(c.Ward.Location).Format("02 15:04"))
			}
		}
		return list
	}
	require.Equal(t, []string{"10 07:30", "10 19:30"}, starts(10))
	require.Equal(t, []string{"17 07:00", "17 14:00", "17 21:00"}, starts(17))
	// The clocks go forward in the night to Sunday 29 March 2026.
	require.Equal(t, []string{"28 07:00", "28 14:00", "28 21:00"}, starts(28))
	require.Equal(t, []string{"29 07:00", "29 14:00", "29 21:00"}, starts(29))
	for _, day := range c.Days {
		for _, cells := range day.Cells {
			for _, cell := range cells {
				if night := cell.From.Time().In(c.Ward.Location); night.Format("02 15:04") == "28 21:00" {
					require.Equal(t, 9*time.Hour, cell.Until.Sub(cell.From))
				}
			}
		}
	}
}

func TestCalendar_OpensToItsLines(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.now = time.Date(2026, 3, 6, 12, 0, 0, 0, time.UTC)
	recordLook(t, s, "look-1", time.Date(2026, 3, 5, 9, 0, 0, 0, time.UTC))
	night := line.MinuteOf(time.Date(2026, 3, 4, 19, 30, 0, 0, time.UTC))
	c := marchCalendar(t, s, desk.CalendarQuestion{Shift: night})
	require.NotNil(t, c.Opened)
	require.Len(t, c.Opened.Duties, c.Opened.Asked())
	duty := c.Opened.Duties[0]
	require.Equal(t, line.ID("line-1"), duty.Current.ID)
	require.Equal(t, audit.MetLate, duty.How)
	require.Equal(t, 90*time.Minute, duty.Ended.Sub(duty.Due))
	require.Nil(t, marchCalendar(t, s, desk.CalendarQuestion{Shift: night + 1}).Opened)

	lead := s.client(t, account.Lead)
	page := body(t, lead, s.server.URL+"/calendar/alder?month=2026-03")
	require.Contains(t, page, `<th scope="row">Sat 7</th>`)
	require.Contains(t, page, "nothing fell due")
	require.Contains(t, page, "0/1")
	opened := body(t, lead, s.server.URL+"/calendar/alder?month=2026-03&shift="+strconv.Itoa(int(night)))
	require.Contains(t, opened, "late by 1 h 30: review Thu 5 Mar 09:00")
	require.Contains(t, opened, `href="/lines/line-1"`)
	require.NotContains(t, opened, "KD-204")
	require.NotContains(t, opened, "Somebody nurse")
}

func TestCalendar_RefusesWhatIsNone(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, account.Lead)
	for path, want := range map[string]int{
		"/calendar/alder?month=2026-13":                  http.StatusUnprocessableEntity,
		"/calendar/alder?rule=across-joint":              http.StatusUnprocessableEntity,
		"/calendar/nowhere":                              http.StatusNotFound,
		"/calendar?month=2026-03&rule=dressing-overdue":  http.StatusSeeOther,
		"/calendar/alder?month=2026-03&shift=x":          http.StatusOK,
		"/calendar/alder?month=2031-01&rule=need-daily":  http.StatusOK,
		"/calendar/alder?month=2026-03&shift=9999999999": http.StatusOK,
	} {
		answer, err := lead.Get(s.server.URL + path)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		require.Equal(t, want, answer.StatusCode, path)
	}
	_, err := s.app.Desk.Calendar(t.Context(), s.person(t, "person-nurse"), desk.CalendarQuestion{Ward: "alder"})
	require.True(t, fault.Is(err, fault.Forbidden))
}
