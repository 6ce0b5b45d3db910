package interop_test

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/fault"
	"dwellbook/internal/interop"
	"dwellbook/internal/line"
)

const published = "../../testdata/published/stats/"

func episodeOptions() interop.EpisodeOptions {
	return interop.EpisodeOptions{Zone: london, Now: options().Now}
}

func readEpisodes(t require.TestingT, text string, o interop.EpisodeOptions) *interop.Episodes {
	e, err := interop.ReadEpisodes(strings.NewReader(text), o)
	require.NoError(t, err)
	return e
}

// expected is the part of a reference file that stands under "expected".
func expected[T any](t *testing.T, id string) T {
	t.Helper()
	text, err := os.ReadFile(published + id + ".json")
	require.NoError(t, err)
	var file struct{ Expected T }
	require.NoError(t, json.Unmarshal(text, &file))
	return file.Expected
}

// The counts were made with R 4.2.2, as the files say.
func TestReadEpisodes_CountsAreThoseOfTheReferenceTable(t *testing.T) {
	t.Parallel()
	want := expected[struct {
		Lines    int
		InSitu   int            `json:"in_situ"`
		ByReason map[string]int `json:"by_reason"`
		ByWard   map[string]int `json:"by_ward"`
		BySite   map[string]int `json:"by_site"`
		ByGauge  map[string]int `json:"by_gauge"`

		Operators int
		Total     float64 `json:"dwell_hours_total"`
		Median    float64 `json:"dwell_hours_median_closed"`
		Longest   float64 `json:"dwell_hours_max_closed"`
	}](t, "episodes_small_counts")
	m, err := interop.ParseMapping("m", []byte("[codes.removal_reason]\ncompleted = \"not-needed\"\n"))
	require.NoError(t, err)
	text, err := os.ReadFile(published + "line_episodes_small.csv")
	require.NoError(t, err)
	asOf := time.Date(2025, 1, 5, 0, 0, 0, 0, time.UTC)
	e := readEpisodes(t, string(text), interop.EpisodeOptions{Mapping: m, Now: asOf})

	require.Empty(t, e.Bad)
	require.Empty(t, e.Repeated)
	require.Empty(t, e.Unread)
	reasons, wards, sites, gauges := map[string]int{}, map[string]int{}, map[string]int{}, map[string]int{}
	theirReason := map[line.Reason]string{
		0: "in_situ", line.NotNeeded: "completed", line.Dislodged: "dislodgement", line.InfectionSuspected: "infection",
	}
	theirSite := map[line.Site]string{line.ElbowCrease: "antecubital", line.FootDorsum: "foot", line.HandDorsum: "hand", line.UpperArm: "upper_arm"}
	word := func(theirs, ours string) string {
		if theirs != "" {
			return theirs
		}
		return ours
	}
	var closed []float64
	total := 0.0
	for i, c := range e.Courses {
		require.Equal(t, line.Key(i+1), c.Line)
		require.Equal(t, fmt.Sprintf("L%06d", i+1), e.IDs[i])
		reasons[word(theirReason[c.Reason], c.Reason.String())]++
		wards[e.Wards[c.Ward-1]]++
		sites[word(theirSite[c.Site], c.Site.String())]++
		gauges[fmt.Sprint(uint8(c.Gauge))]++
		total += min(c.Out, line.MinuteOf(asOf)).Sub(c.Placed).Hours()
		if c.Out != line.Far {
			closed = append(closed, c.Out.Sub(c.Placed).Hours())
		}
	}
	require.Len(t, e.Courses, want.Lines)
	require.Len(t, closed, want.Lines-want.InSitu)
	require.Equal(t, want.ByReason, reasons)
	require.Equal(t, want.ByWard, wards)
	require.Equal(t, want.BySite, sites)
	require.Equal(t, want.ByGauge, gauges)
	require.Len(t, e.Operators, want.Operators)
	require.InDelta(t, want.Total, total, 1e-6)
	slices.Sort(closed)
	require.InDelta(t, want.Median, (closed[len(closed)/2-1]+closed[len(closed)/2])/2, 1e-9)
	require.InDelta(t, want.Longest, closed[len(closed)-1], 1e-9)
}

func TestReadEpisodes_FirstAttemptsAreThoseOfTheReferenceTable(t *testing.T) {
	t.Parallel()
	want := expected[struct {
		Operators []struct {
			Operator   string
			Insertions int
			Successes  int `json:"first_attempt_successes"`
		}
	}](t, "episodes_small_operators")
	text, err := os.ReadFile(published + "line_episodes_small.csv")
	require.NoError(t, err)
	m, err := interop.ParseMapping("m", []byte("[codes.removal_reason]\ncompleted = \"not-needed\"\n"))
	require.NoError(t, err)
	o := interop.EpisodeOptions{Mapping: m, Now: time.Date(2025, 1, 5, 0, 0, 0, 0, time.UTC)}
	told := readEpisodes(t, string(text), o)
	byAttempts := readEpisodes(t, strings.Replace(string(text), "first_attempt_success", "not_read", 1), o)
	require.Equal(t, []string{"not_read"}, byAttempts.Unread)
	for _, e := range []*interop.Episodes{told, byAttempts} {
		for _, w := range want.Operators {
			insertions, successes := 0, 0
			for i, operator := range e.Operator {
				if e.Operators[operator] == w.Operator {
					insertions++
					if e.FirstTime[i] == line.Yes {
						successes++
					}
				}
			}
			require.Equal(t, w.Insertions, insertions, w.Operator)
			require.Equal(t, w.Successes, successes, w.Operator)
		}
	}
}

func TestReadEpisodes_Row(t *testing.T) {
	t.Parallel()
	const head = "line_id,inserted_at,site,dressed_at,last_review_at,removed_at,removal_reason\n"
	placed := line.Course{Line: 1, Placed: at(t, "2026-03-02T08:20:00Z"), Out: line.Far, Precision: line.ToMinute, Site: line.Forearm}
	with := func(change func(c *line.Course)) line.Course {
		c := placed
		change(&c)
		return c
	}
	for _, c := range []struct {
		name, row string
		want      line.Course
	}{
		{"still in", "L1,2026-03-02 08:20,forearm,,,,", placed},
		{"without a line_id", ",2026-03-02 08:20,forearm,,,,", placed},
		{"out", "L1,2026-03-02T08:20:00Z,forearm,,,2026-03-03 08:20,leak", with(func(c *line.Course) {
			c.Out, c.Reason = at(t, "2026-03-03T08:20:00Z"), line.Leak
		})},
		{"out for a reason not told", "L1,2026-03-02 08:20,forearm,,,2026-03-03 08:20,", with(func(c *line.Course) {
			c.Out, c.Reason = at(t, "2026-03-03T08:20:00Z"), line.OtherReason
		})},
		{"out on the day of the last look", "L1,2026-03-02 08:20,forearm,,2026-03-03 12:00,2026-03-03,leak", with(func(c *line.Course) {
			c.Out, c.Reason = at(t, "2026-03-03T12:00:00Z"), line.Leak
		})},
		{"found gone after a look", "L1,2026-03-02 08:20,forearm,,2026-03-03 12:00,2026-03-04 09:00,found gone", with(func(c *line.Course) {
			c.Out, c.Reason = at(t, "2026-03-03T12:00:00Z"), line.FoundGone
		})},
		{"found gone without a look", "L1,2026-03-02 08:20,forearm,,,,found gone", with(func(c *line.Course) {
			c.Out, c.Reason = c.Placed, line.FoundGone
		})},
		{"a date only", "L1,2026-03-02,forearm,,,,", with(func(c *line.Course) {
			c.Placed, c.Precision = at(t, "2026-03-02T00:00:00Z"), line.ToDay
		})},
		{"first seen when dressed", "L1,n/k,forearm,2026-03-02 08:20,2026-03-03 12:00,,", with(func(c *line.Course) { c.Precision = line.NotKnown })},
		{"first seen when removed", "L1,,forearm,,,2026-03-02 08:20,leak", with(func(c *line.Course) {
			c.Out, c.Precision, c.Reason = c.Placed, line.NotKnown, line.Leak
		})},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			e := readEpisodes(t, head+c.row+"\n", episodeOptions())
			require.Empty(t, e.Bad)
			require.Equal(t, []line.Course{c.want}, e.Courses)
		})
	}
}

func TestReadEpisodes_ARowThatCannotBeReadIsBad(t *testing.T) {
	t.Parallel()
	const head = "inserted_at,site,removed_at,removal_reason,attempts,first_attempt_success\n"
	for _, c := range []struct{ row, column, what string }{
		{",forearm,,,,", "inserted_at", "is blank"},
		{"2026-03-02,,,,,", "site", "is blank"},
		{"2026-03-02,nose,,,,", "site", "“nose” is not known"},
		{"2026-03-02 08:20,forearm,2026-03-02 08:19,leak,,", "removed_at", "“2026-03-02 08:19” is before inserted_at, which says “2026-03-02 08:20”"},
		{"2026-03-02,forearm,,leak,,", "removed_at", "is blank, but the row has a reason for removal"},
		{"2026-03-06,forearm,,,,", "inserted_at", "“2026-03-06” is in the future"},
		{"2026-03-02,forearm,,,21,", "attempts", "“21” is not a whole number from 1 to 20"},
		{"2026-03-02,forearm,,,,perhaps", "first_attempt_success", "“perhaps” is not known"},
		{"2026-03-02,forearm,,,,,x", "", "the row has 7 cells under 6 headings"},
	} {
		e := readEpisodes(t, head+c.row+"\n", episodeOptions())
		require.Empty(t, e.Courses, c.row)
		require.Len(t, e.Bad, 1, c.row)
		require.Len(t, e.Bad[0].Problems, 1, c.row)
		require.Equal(t, 2, e.Bad[0].Number)
		require.Equal(t, c.column, e.Bad[0].Problems[0].Column)
		require.Equal(t, c.what, say(e.Bad[0].Problems[0].What))
		allowed := say(e.Bad[0].Problems[0].Allowed)
		require.NotContains(t, allowed, "[interop")
		require.NotContains(t, allowed, "<no value>")
	}
}

func TestReadEpisodes_NamesAndFirstAttempts(t *testing.T) {
	t.Parallel()
	o := episodeOptions()
	m, err := interop.ParseMapping("m", []byte("[columns]\noperator_role = \"Grade\"\n[codes.ward]\n\"A 1\" = \"Ash\"\n[codes.first_attempt_success]\nhit = \"yes\"\n"))
	require.NoError(t, err)
	o.Mapping = m
	e := readEpisodes(t, strings.Join([]string{
		"inserted_at,site,ward,operator,Grade,attempts,first_attempt_success,bed,last_score,colour",
		"2026-03-02,hand,Birch,JB,Nurse,1,,,,",
		"2026-03-02,hand,a 1,jb,nurse,3,,7,nine,red",
		"2026-03-02,hand,ASH,JB,,,HIT,,,",
		"2026-03-02,hand,-,unknown,doctor,2,yes,,,",
		"2026-03-02,nose,Elm,XY,porter,,,,,",
		"2026-03-02,hand,,,,,,,,",
	}, "\n"), o)
	require.Equal(t, []string{"Birch", "Ash"}, e.Wards)
	require.Equal(t, []string{"JB", "jb"}, e.Operators, "initials are somebody's to the letter")
	require.Equal(t, []string{"Nurse", "doctor"}, e.Roles)
	require.Equal(t, []int32{0, 1, 0, -1, -1}, e.Operator)
	require.Equal(t, []int32{0, 0, -1, 1, -1}, e.Role)
	require.Equal(t, []uint8{1, 3, 0, 2, 0}, e.Attempts)
	require.Equal(t, []line.Answer{line.Yes, line.No, line.Yes, line.Yes, 0}, e.FirstTime, "the table's own word stands over the attempts")
	var wards []line.Key
	for _, c := range e.Courses {
		wards = append(wards, c.Ward)
	}
	require.Equal(t, []line.Key{1, 2, 2, 0, 0}, wards)
	require.Equal(t, []string{"colour"}, e.Unread)
}

func TestReadEpisodes_TellsOfEachLineOnce(t *testing.T) {
	t.Parallel()
	e := readEpisodes(t, strings.Join([]string{
		"line_id,inserted_at,site",
		"L1,2026-03-02,hand", "L2,2026-03-02,hand", "L3,2026-03-02,hand", "L1,2026-03-02,Hand", "L2,2026-03-02,wrist",
		"L4,nought,hand", ",2026-03-02,hand", ",2026-03-02,hand", "L2,2026-03-02,hand",
	}, "\n"), episodeOptions())
	require.Equal(t, []string{"L1", "L3", "", ""}, e.IDs)
	require.Equal(t, line.Key(4), e.Courses[3].Line)
	require.Equal(t, []int{5, 10}, e.Repeated)
	var told []string
	for _, b := range e.Bad {
		told = append(told, fmt.Sprint(b.Number, " ", say(b.Problems[0].What)))
	}
	require.Equal(t, []string{
		"3 “L2” stands again, with other content, on line 6", "6 “L2” stands again, with other content, on line 3", "7 “nought” is no time that can be read",
	}, told)

	same := readEpisodes(t, "line_id,inserted_at,site\n"+strings.Repeat("L1,2026-03-02,hand\nL1,2026-03-02,wrist\n", 100), episodeOptions())
	require.Empty(t, same.Courses)
	require.Len(t, same.Bad, 101)
	require.Equal(t, "“L1” stands again, with other content, on line 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, …", say(same.Bad[0].Problems[0].What))
}

func TestReadEpisodes_Header(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct{ text, key string }{
		"only what is needed":   {"Inserted at;SITE\n2026-03-02;hand\n", ""},
		"byte-order mark, CRLF": {"\ufeffinserted_at,site\r\n2026-03-02,hand\r\n", ""},
		"empty":                 {" \n", "interop.sheet-empty"},
		"no time":               {"line_id,site\nL1,hand\n", "interop.sheet-columns"},
		"no site":               {"inserted_at\n2026-03-02\n", "interop.sheet-columns"},
		"a heading twice":       {"inserted_at,site,Site\n", "interop.sheet-heading-twice"},
		"UTF-16":                {"\xfe\xff\x00s", "interop.sheet-encoding"},
		"a quote never closed":  {"inserted_at,site\n2026-03-02,\"hand\n", "interop.sheet-quotes"},
	} {
		e, err := interop.ReadEpisodes(strings.NewReader(c.text), episodeOptions())
		if c.key == "" {
			require.NoError(t, err, name)
			require.Len(t, e.Courses, 1, name)
			continue
		}
		var f *fault.Error
		require.ErrorAs(t, err, &f, name)
		require.Equal(t, c.key, f.Key, name)
	}
	broken := errors.New("the disk is gone")
	_, err := interop.ReadEpisodes(iotest.ErrReader(broken), episodeOptions())
	require.ErrorIs(t, err, broken)
}

// A table of episodes reads as a sheet does: the same rows are bad for the same
// reasons, and the good ones say the same of their lines. Only a row without
// any time, which a sheet dates by its own, says nothing here.
func TestReadEpisodes_ReadsWhatASheetDoes(t *testing.T) {
	t.Parallel()
	moments := []string{
		"", "-", "2026-03-01", "2026-03-02", "2026-03-02 00:10", "2026-03-02  08:20", "2026-03-02T08:20:31Z", "2026-03-02 08:20 +0200", "02/03/2026 08:20",
		"2026-03-02T23:59", "2026-03-03", "2026-03-04 12:00:30", "2026-03-09", "1999-01-01", "2025-10-26 01:30", "2025-10-26 01:30 first", "soon",
	}
	rapid.Check(t, func(rt *rapid.T) {
		pick := func(name string, words ...string) string { return rapid.SampledFrom(words).Draw(rt, name) }
		so, eo := options(), episodeOptions()
		m, err := interop.ParseMapping("m", []byte(pick("mapping", "", "open_lines = \"found-gone\"\n", "zone = \"Asia/Kathmandu\"\n",
			"date_formats = [\"D/M/YYYY HH:mm\"]\n[codes.removal_reason]\n\"-\" = \"leak\"\n")))
		require.NoError(rt, err)
		so.Mapping, eo.Mapping = m, m
		var b strings.Builder
		b.WriteString(head)
		for i := range rapid.IntRange(1, 8).Draw(rt, "rows") {
			b.WriteString(strings.Join([]string{
				fmt.Sprint("L", i), pick("ward", "Ash", "Birch"), "", "", pick("inserted", moments...), pick("site", "hand", "L ACF", "forearm R", " wrist", "nose", "?"),
				pick("side", "left", "", "R", "n/k", "up"), pick("gauge", "20", "pink", "18 G", "", "19"), pick("operator", "JB", ""), pick("attempts", "", "2", "99"),
				pick("asepsis", "full", "y", ""), "film", pick("dressed", moments...), pick("reviewed", moments...), "", pick("removed", moments...),
				pick("reason", "", "-", "leak", "tissued", "found-gone", "nought", "'=leak"),
			}, ",") + "\n")
		}
		sheet, err := interop.ReadSheet(strings.NewReader(b.String()), so)
		require.NoError(rt, err)
		e := readEpisodes(rt, b.String(), eo)
		bad := map[int][]interop.Problem{}
		for _, r := range e.Bad {
			bad[r.Number] = r.Problems
		}
		for _, r := range sheet.Bad {
			require.Equal(rt, r.Problems, bad[r.Number], b.String())
			delete(bad, r.Number)
		}
		for _, r := range sheet.Rows {
			if r.FirstSeen == interop.AsOf {
				require.Equal(rt, "interop.blank", bad[r.Number][0].What.Key)
				delete(bad, r.Number)
				continue
			}
			i := slices.Index(e.IDs, r.LineID)
			require.GreaterOrEqual(rt, i, 0, b.String())
			sameLine(rt, r, e, i)
		}
		require.Empty(rt, bad)
	})
}

func sameLine(t require.TestingT, r interop.Row, e *interop.Episodes, i int) {
	got := e.Courses[i]
	want := line.Course{Line: got.Line, Ward: got.Ward, Out: line.Far}
	for _, entry := range r.Entries {
		switch body := entry.Body.(type) {
		case line.Occasion:
			want.Placed, want.Precision = entry.Happened, entry.Precision
			want.Site, want.Side, want.Gauge, want.Asepsis = body.Site, body.Side, body.Gauge, body.Asepsis
			require.Equal(t, body.Count, int(e.Attempts[i]))
		case line.Admission:
			require.Equal(t, string(body.Ward), "ward-"+strings.ToLower(e.Wards[got.Ward-1]))
		case line.Removal:
			want.Out, want.Reason = entry.Happened, body.Reason
		}
	}
	if want.Reason == line.FoundGone {
		want.Out = want.Placed
		for _, entry := range r.Entries {
			if entry.Kind == line.KindReview {
				want.Out = max(want.Out, entry.Happened)
			}
		}
	}
	require.Equal(t, want, got)
}

func FuzzReadEpisodes(f *testing.F) {
	text, err := os.ReadFile(sheets + "messy.csv")
	require.NoError(f, err)
	f.Add(string(text))
	f.Add("line_id,inserted_at,site\nL1,2026-03-02,hand\nL1,2026-03-02,wrist\nL1,2026-03-02,hand\n\n,soon,\"L\nACF\"\n")
	f.Add("site;inserted_at;operator_role\n\"L ACF\";2026-03-02 09:00 first;x\n")
	f.Fuzz(func(t *testing.T, text string) {
		e, err := interop.ReadEpisodes(strings.NewReader(text), episodeOptions())
		if err != nil {
			return
		}
		n := len(e.Courses)
		for _, other := range []int{len(e.IDs), len(e.Operator), len(e.Role), len(e.Attempts), len(e.FirstTime)} {
			require.Equal(t, n, other)
		}
		for i, c := range e.Courses {
			require.LessOrEqual(t, c.Placed, c.Out)
			require.NotZero(t, c.Site)
			require.Less(t, int(e.Operator[i]), len(e.Operators))
			require.Less(t, int(e.Role[i]), len(e.Roles))
			require.LessOrEqual(t, int(c.Ward), len(e.Wards))
		}
		for _, b := range e.Bad {
			require.NotEmpty(t, b.Problems)
		}
		require.Equal(t, rowsOf(t, text), n+len(e.Bad)+len(e.Repeated))
	})
}

// rowsOf counts the rows below the headings that are not blank.
func rowsOf(t *testing.T, text string) int {
	t.Helper()
	text = strings.TrimPrefix(text, "\ufeff")
	first, _, _ := strings.Cut(text, "\n")
	in := csv.NewReader(strings.NewReader(text))
	in.FieldsPerRecord = -1
	for _, d := range ",;\t|" {
		if strings.Count(first, string(d)) > strings.Count(first, string(in.Comma)) {
			in.Comma = d
		}
	}
	all, err := in.ReadAll()
	require.NoError(t, err)
	all = slices.DeleteFunc(all, func(record []string) bool { return strings.TrimSpace(strings.Join(record, "")) == "" })
	return len(all) - 1
}
