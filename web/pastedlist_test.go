package web

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// wrongField is the field that an error blames; "" where there is no error.
func wrongField(t *testing.T, err error) string {
	t.Helper()
	if err == nil {
		return ""
	}
	var e *fault.Error
	require.ErrorAs(t, err, &e)
	for name := range e.Fields {
		return name
	}
	return "?"
}

func TestWardOfLine_ReadsWhatAWardIs(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text, name string
		beds       []string
		shifts     []line.ShiftTime
		wrong      string
	}{
		{text: "Alder; 1-3, S1; 07:30, 19:30", name: "Alder", beds: []string{"1", "2", "3", "S1"}, shifts: []line.ShiftTime{450, 1170}},
		{text: "Alder\t1–2\t07:00 15:00 23:00", name: "Alder", beds: []string{"1", "2"}, shifts: []line.ShiftTime{420, 900, 1380}},
		{text: "  Alder  ", name: "Alder"},
		{text: "Alder;;19:30", name: "Alder", shifts: []line.ShiftTime{1170}},
		{text: "Alder; A-1, 01-03, 3-1, 0-2, -", name: "Alder", beds: []string{"A-1", "01-03", "3-1", "0-2", "-"}},
		{text: "Alder; 1-201", name: "Alder", wrong: "beds"},
		{text: "Alder; 1-150, 151-250", name: "Alder", wrong: "beds"},
		{text: "Alder; 1-3; half past seven", name: "Alder", beds: []string{"1", "2", "3"}, wrong: "shifts"},
		{text: "Alder; 1; 07:30; 19:30", name: "Alder", beds: []string{"1"}, shifts: []line.ShiftTime{450}, wrong: "name"},
	} {
		lines := pastedLines(c.text)
		require.Len(t, lines, 1, "%q", c.text)
		w, err := wardOfLine(lines[0], "Europe/London")
		require.Equal(t, c.wrong, wrongField(t, err), "%q", c.text)
		require.Equal(t, c.name, w.Name, "%q", c.text)
		require.Equal(t, c.beds, w.Beds, "%q", c.text)
		require.Equal(t, c.shifts, w.Shifts, "%q", c.text)
		require.Equal(t, "Europe/London", w.Zone)
	}
}

func TestPersonOfLine_ReadsWhoAPersonIs(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		text  string
		role  account.Role
		wrong string
	}{
		{"Nell Ashdown; nurse; nell; NA", account.Nurse, ""},
		{"Nell Ashdown\tNURSE\tnell\tNA", account.Nurse, ""},
		{"Nell Ashdown; Infection-control lead; nell; NA", account.Lead, ""}, // as screens say it
		{"Nell Ashdown; porter; nell; NA", "", "role"},
		{"Nell Ashdown", "", "role"},
		{"Nell Ashdown; nurse; nell; NA; 7", account.Nurse, "name"},
	} {
		n, err := personOfLine(t.Context(), pastedLines(c.text)[0])
		require.Equal(t, c.wrong, wrongField(t, err), "%q", c.text)
		require.Equal(t, c.role, n.Role, "%q", c.text)
		require.Equal(t, "Nell Ashdown", n.Name)
	}
}

func TestPastedLines_KeepTheirNumbers(t *testing.T) {
	t.Parallel()
	lines := pastedLines("\r\nAlder;1\r\n\r\n \t \nBirch\t2;3\n")
	require.Equal(t, []pastedLine{{2, []string{"Alder", "1"}}, {5, []string{"Birch", "2;3"}}}, lines)
}

func FuzzPastedList(f *testing.F) {
	for _, seed := range []string{"Alder; 1-12, S1; 07:30, 19:30\n", "Nell Ashdown\tnurse\tnell\tNA", "A;1-65535,1-65535", "\r\n;;;\r", "a;-\u2013-;:"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		rows := strings.Count(text, "\n") + 1
		for _, l := range pastedLines(text) {
			require.True(t, l.no >= 1 && l.no <= rows)
			require.NotEmpty(t, l.fields)
			if w, err := wardOfLine(l, "UTC"); err == nil {
				require.LessOrEqual(t, len(w.Beds), mostBeds)
				for _, s := range w.Shifts {
					require.True(t, s >= 0 && s < 24*60)
				}
			}
			if n, err := personOfLine(t.Context(), l); err == nil {
				require.True(t, n.Role.Valid())
			}
		}
	})
}
