package interop_test

import (
	"errors"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/interop"
	"dwellbook/internal/line"
)

func TestParseMapping_SaysWhereItIsWrong(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, text, key string
		line            int
		problem         string
	}{
		{"no TOML", "zone = \n", "", 1, ""},
		{"an unknown key", "zone = \"Europe/London\"\nzones = 1\n", "zones", 2, "there is no such key"},
		{"an unknown vocabulary", "[codes.colour]\nx = \"y\"\n", "codes.colour", 1, "there is no such key"},
		{"an unknown column", "[columns]\nline_id = \"No\"\nplaced = \"In\"\n", "columns.placed", 3, "there is no such column"},
		{"an empty heading", "[columns]\nline_id = \" \"\n", "columns.line_id", 2, "the heading is empty"},
		{"one heading for two columns", "[columns]\nbed = \"Place\"\nward = \"place\"\n", "columns.ward", 3, `the heading "place" is also that of bed`},
		{"a code that does not exist", "\n[codes.site]\nACF = \"elbow\"\n", "codes.site.ACF", 3, `"elbow" is no site`},
		{"a gauge that does not exist", "[codes.gauge]\n\"small one\" = \"23\"\n", "codes.gauge.small one", 2, `"23" is no gauge`},
		{"one word with two meanings", "[codes.side]\nLi = \"left\"\nli = \"right\"\n", "codes.side.li", 3, "the same word stands twice with two meanings"},
		{"a score out of range", "[codes.last_score]\nbad = 6\n", "codes.last_score.bad", 2, "6 is out of range"},
		{"a word for a number", "[codes.attempts]\nonce = \"one\"\n", "codes.attempts.once", 2, ""},
		{"no zone", "zone = \"London\"\n", "zone", 1, `"London" is no time zone`},
		{"the machine's zone", "zone = \"Local\"\n", "zone", 1, `"Local" is no time zone`},
		{"open lines", "open_lines = \"gone\"\n", "open_lines", 1, `"gone" is no answer`},
		{"a delimiter", "delimiter = \"tab\"\n", "delimiter", 1, `"tab" is no delimiter`},
		{"a format without a year", "# dates\ndate_formats = [\"DD/MM HH:mm\"]\n", "date_formats", 2, `"DD/MM HH:mm": a date needs year, month and day`},
		{"a format with a day twice", "date_formats = [\"DD/D/YYYY\"]\n", "date_formats", 1, `"DD/D/YYYY": the day stands twice`},
		{"a format with an hour alone", "date_formats = [\"DD/MM/YYYY HH\"]\n", "date_formats", 1, `"DD/MM/YYYY HH": a time of day needs hour and minute`},
		{"a format in Go's own way", "date_formats = [\"02/01/2006\"]\n", "date_formats", 1, `"02/01/2006": "0" means nothing in a date format`},
		{"the first of two faults", "zone = \"x\"\nopen_lines = \"y\"\n", "zone", 1, `"x" is no time zone`},
		{"inside an inline table", "zone = \"Europe/London\"\ncodes = { side = { l = \"lefty\" } }\n", "codes.side.l", 2, `"lefty" is no side`},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := interop.ParseMapping("ward.toml", []byte(c.text))
			var e *interop.MappingError
			require.ErrorAs(t, err, &e)
			require.Equal(t, "ward.toml", e.File)
			require.Equal(t, c.line, e.Line, "%v", err)
			require.Equal(t, c.key, e.Key, "%v", err)
			if c.problem != "" {
				require.Equal(t, c.problem, e.Problem)
				require.NotEmpty(t, e.Allowed)
			}
		})
	}
}

func TestMapping_IsFollowed(t *testing.T) {
	t.Parallel()
	o := options()
	m, err := interop.ParseMapping("m", []byte(`
delimiter = "|"
zone = "Europe/Paris"
date_formats = ["DD.MM.YYYY HH:mm"]
blank = ["nil"]
scale = "ward chart"
[columns]
line_id = "Number"
inserted_at = "Day + Hour"
site = "Where"
last_review_at = "Seen"
last_score = "Score"
[codes.ward]
"3 East" = "Ash"
[codes.site]
"crook of the arm" = "elbow-crease"
[codes.gauge]
"the pink one" = "20"
[codes.removal_reason]
"-" = ""
[codes.last_score]
fine = 0
`))
	require.NoError(t, err)
	o.Mapping = m
	s := read(t, "Number|Ward|Day|Hour|WHERE|gauge|Seen|Score|bed|removal_reason\nL1|3  EAST|02.03.2026|09:20|Crook of the Arm|The Pink One|03.03.2026 10:00|Fine|nil|-\n", o)
	require.Empty(t, problems(s))
	e := entryOf(t, s, line.KindOccasion)
	require.Equal(t, "2026-03-02T08:20:00Z", e.Happened.String())
	require.Equal(t, line.Occasion{Outcome: line.WithLine, Site: line.ElbowCrease, Gauge: 20}, e.Body)
	zero := 0
	require.Equal(t, line.Review{Score: &zero, Scale: "ward chart"}, entryOf(t, s, line.KindReview).Body)
	require.Empty(t, entryOf(t, s, line.KindAdmission).Body.(line.Admission).Bed)
}

func TestMapping_AHeadingItNamesMustBeThere(t *testing.T) {
	t.Parallel()
	o := options()
	m, err := interop.ParseMapping("m", []byte("[columns]\nbed = \"Bed no\"\n"))
	require.NoError(t, err)
	o.Mapping = m
	_, err = interop.ReadSheet(stringsReader(head), o)
	require.ErrorContains(t, err, "Bed no")
}

func FuzzParseMapping(f *testing.F) {
	text, err := os.ReadFile(sheets + "messy.toml")
	require.NoError(f, err)
	f.Add(text)
	f.Add([]byte("codes = { site = { a = \"b\" } }\ndate_formats = [\"D/M/YY\"]\n"))
	f.Add([]byte("columns.ward = \"x + y\"\n[codes]\nside = {}\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		m, err := interop.ParseMapping("m", text)
		if err != nil {
			var e *interop.MappingError
			require.True(t, errors.As(err, &e))
			require.Positive(t, e.Line)
			return
		}
		o := options()
		o.Mapping = m
		_, _ = interop.ReadSheet(stringsReader(head+"L1,Ash,3,R00001,02/03/2026 10:00,forearm,left,20,,,,,,,,,\n"), o)
	})
}
