package interop_test

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/fault"
	"dwellbook/internal/interop"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

var update = flag.Bool("update", false, "write the golden files anew")

const sheets = "../../testdata/sheets/"

var london = func() *time.Location {
	zone, err := time.LoadLocation("Europe/London")
	if err != nil {
		panic(err)
	}
	return zone
}()

// house is an invented hospital of two wards.
type house struct{}

func (house) Ward(name string) (line.ID, *time.Location, bool) {
	switch strings.ToLower(name) {
	case "ash":
		return "ward-ash", london, true
	case "birch":
		return "ward-birch", london, true
	}
	return "", nil, false
}

func (house) Reference(text string) bool { return regexp.MustCompile(`^R[0-9]{5}$`).MatchString(text) }

// options are those of a reader on 5 March 2026, noon.
func options() interop.SheetOptions {
	return interop.SheetOptions{
		Source: "audit", Mapping: interop.DefaultMapping(), House: house{}, Author: "importer",
		Now: time.Date(2026, 3, 5, 12, 0, 0, 0, time.UTC),
	}
}

func read(t *testing.T, text string, o interop.SheetOptions) interop.Sheet {
	t.Helper()
	s, err := interop.ReadSheet(strings.NewReader(text), o)
	require.NoError(t, err)
	return s
}

func file(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(sheets, name))
	require.NoError(t, err)
	return string(text)
}

func mapping(t *testing.T, name string) interop.Mapping {
	t.Helper()
	m, err := interop.ParseMapping(name, []byte(file(t, name)))
	require.NoError(t, err)
	return m
}

func say(m line.Message) string {
	return words.Tell(words.With(context.Background(), words.Speaker{Zone: london}), m)
}

const head = "line_id,ward,bed,patient_ref,inserted_at,site,side,gauge,operator,attempts,asepsis,dressing,dressed_at,last_review_at,last_score,removed_at,removal_reason\n"

// one reads a sheet of one row, given as column=value pairs over a good row.
func one(t *testing.T, o interop.SheetOptions, cells ...string) interop.Sheet {
	t.Helper()
	values := map[string]string{
		"line_id": "L1", "ward": "Ash", "bed": "3", "patient_ref": "R00001", "inserted_at": "2026-03-02 08:20",
		"site": "forearm", "side": "left", "gauge": "20",
	}
	for _, c := range cells {
		column, value, _ := strings.Cut(c, "=")
		values[column] = value
	}
	var row []string
	for _, column := range interop.Columns {
		row = append(row, `"`+strings.ReplaceAll(values[column], `"`, `""`)+`"`)
	}
	return read(t, head+strings.Join(row, ",")+"\n", o)
}

// entryOf is the only entry of the kind; it fails the test where there is not one.
func entryOf(t *testing.T, s interop.Sheet, kind line.Kind) line.Entry {
	t.Helper()
	require.Empty(t, problems(s))
	var found []line.Entry
	for _, r := range s.Rows {
		for _, e := range r.Entries {
			if e.Kind == kind {
				found = append(found, e)
			}
		}
	}
	require.Len(t, found, 1, "%s", kind)
	return found[0]
}

// problems is every problem of every bad row in words.
func problems(s interop.Sheet) []string {
	var all []string
	for _, b := range s.Bad {
		for _, p := range b.Problems {
			all = append(all, fmt.Sprintf("line %d, %s: %s; allowed: %s", b.Number, p.Column, say(p.What), say(p.Allowed)))
		}
	}
	return all
}

func at(t *testing.T, rfc3339 string) line.Minute {
	t.Helper()
	m, err := time.Parse(time.RFC3339, rfc3339)
	require.NoError(t, err)
	return line.MinuteOf(m)
}

func TestReadSheet_TellsAllThatIsWrongInAMessySheet(t *testing.T) {
	t.Parallel()
	o := options()
	o.Mapping = mapping(t, "messy.toml")
	s := read(t, file(t, "messy.csv"), o)

	var b strings.Builder
	fmt.Fprintf(&b, "%d rows can be imported, %d cannot.\n", len(s.Rows), len(s.Bad))
	fmt.Fprintf(&b, "Counted once, though they stand again: lines %v.\nHeadings not read: %s.\n\n", s.Repeated, strings.Join(s.Unread, ", "))
	b.WriteString(strings.Join(problems(s), "\n") + "\n")
	golden(t, "messy.report.txt", b.String())

	var bad bytes.Buffer
	require.NoError(t, interop.WriteBad(&bad, s, say))
	golden(t, "messy.bad.csv", bad.String())
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join(sheets, name)
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(want), got)
}

func TestReadSheet_ReadsTheGoodRowsOfAMessySheet(t *testing.T) {
	t.Parallel()
	o := options()
	o.Mapping = mapping(t, "messy.toml")
	s := read(t, file(t, "messy.csv"), o)
	placed := map[string]line.Entry{}
	rows := map[string]interop.Row{}
	for _, r := range s.Rows {
		rows[r.LineID] = r
		for _, e := range r.Entries {
			if e.Kind == line.KindOccasion {
				placed[r.LineID] = e
			}
		}
	}
	require.Equal(t, at(t, "2026-03-02T08:20:00Z"), placed["A-001"].Happened)
	require.Equal(t, line.Occasion{
		Outcome: line.WithLine, Site: line.ElbowCrease, Side: line.Right, Gauge: 20, Count: 2, Asepsis: line.AsepsisNotFull, Dressing: line.Film,
	}, placed["A-002"].Body)
	require.Equal(t, at(t, "2026-03-02T09:05:00Z"), placed["A-002"].Happened)
	require.Equal(t, line.ToDay, placed["A-003"].Precision)
	require.Equal(t, line.NotKnown, placed["A-004"].Precision)
	require.Equal(t, "last_review_at", rows["A-004"].FirstSeen)
	require.Equal(t, line.Left, placed["A-004"].Body.(line.Occasion).Side, "the side stands in the site's cell")
	require.Equal(t, line.Gauge(18), placed["A-004"].Body.(line.Occasion).Gauge, "green hub")
	require.Equal(t, rows["A-001"].Subject, rows["A-015"].Subject, "one patient, two lines")
	require.NotEqual(t, rows["A-001"].Subject, rows["A-004"].Subject)
	require.NotContains(t, rows, "A-006")
}

func TestWriteBad_CanBeMendedAndImported(t *testing.T) {
	t.Parallel()
	o := options()
	o.Mapping = mapping(t, "messy.toml")
	s := read(t, file(t, "messy.csv"), o)
	var bad bytes.Buffer
	require.NoError(t, interop.WriteBad(&bad, s, say))

	again := read(t, bad.String(), o)
	require.Empty(t, again.Rows)
	require.Len(t, again.Bad, len(s.Bad))
	require.Equal(t, s.Unread, again.Unread, "the column with the problems is not read")
	var twice bytes.Buffer
	require.NoError(t, interop.WriteBad(&twice, again, say))
	require.Equal(t, len(strings.Split(bad.String(), "\n")), len(strings.Split(twice.String(), "\n")))

	mended := strings.Replace(bad.String(), "03/03/2026 22:00", "04/03/2026 22:00", 1) // out after in
	require.Len(t, read(t, mended, o).Rows, 1)
}

func TestReadSheet_TheSameSheetTwiceGivesTheSameEntries(t *testing.T) {
	t.Parallel()
	first := read(t, file(t, "clean.csv"), options())
	require.Empty(t, problems(first))
	o := options()
	lines := strings.SplitAfter(strings.TrimSuffix(file(t, "clean.csv"), "\n"), "\n")
	for i := 1; i < len(lines)/2; i++ { // another order, other spelling of the same
		lines[i], lines[len(lines)-i] = strings.TrimSuffix(lines[len(lines)-i], "\n")+"\n", lines[i]
	}
	text := strings.ReplaceAll(strings.Join(lines, ""), "elbow-crease", "ACF")
	second := read(t, "\ufeff"+strings.ReplaceAll(text, "\n", "\r\n"), o)
	require.Equal(t, byID(first), byID(second))
	o.Source = "another"
	for id := range byID(read(t, text, o)) {
		require.NotContains(t, byID(first), id, "another source has other lines")
	}
}

func byID(s interop.Sheet) map[line.ID]line.Entry {
	all := map[line.ID]line.Entry{}
	for _, r := range s.Rows {
		for _, e := range r.Entries {
			all[e.ID] = e
		}
	}
	return all
}

func TestReadSheet_NextMonthAppendsWhatIsNew(t *testing.T) {
	t.Parallel()
	o := options()
	first := byID(read(t, file(t, "clean.csv"), o))
	o.Now = o.Now.AddDate(0, 0, 5)
	next := read(t, file(t, "next-month.csv"), o)
	require.Empty(t, problems(next))

	fresh, changed := map[string]int{}, []string{}
	for _, r := range next.Rows {
		for _, e := range r.Entries {
			old, known := first[e.ID]
			switch {
			case !known && !interop.IsMove(e.Kind):
				fresh[r.LineID+" "+e.Kind.String()]++
			case known && interop.Changed(old, e):
				changed = append(changed, r.LineID+" "+e.Kind.String())
			}
		}
	}
	require.Equal(t, map[string]int{
		"C-01 dressing": 1, "C-01 review": 1, "C-02 review": 1, "C-02 removal": 1, "C-04 review": 1, "C-05 review": 1, "C-07 occasion": 1,
	}, fresh)
	require.Equal(t, []string{"C-02 occasion"}, changed, "18G became 20G")
}

func TestReadSheet_Header(t *testing.T) {
	t.Parallel()
	row := "L1,Ash,forearm\n"
	for name, c := range map[string]struct {
		text string
		key  string
	}{
		"empty":                 {"", "interop.sheet-empty"},
		"only blank rows":       {"\n , ,\n", "interop.sheet-empty"},
		"no site":               {"line_id,ward\nL1,Ash\n", "interop.sheet-columns"},
		"a heading twice":       {"line_id,ward,site,Site\n" + row, "interop.sheet-heading-twice"},
		"UTF-16":                {"\xff\xfel\x00", "interop.sheet-encoding"},
		"a quote out of place":  {"line_id,ward,site\nL1,A\"sh,forearm\n", "interop.sheet-quotes"},
		"a quote never closed":  {"line_id,ward,site\nL1,\"Ash,forearm\n", "interop.sheet-quotes"},
		"capitals and spaces":   {" Line_ID ,WARD, site \n" + row, ""},
		"line id in words":      {"Line ID,Ward,Site\n" + row, ""},
		"byte-order mark, CRLF": {"\ufeffline_id,ward,site\r\nL1,Ash,forearm\r\n", ""},
		"semicolons":            {"line_id;ward;site\nL1;Ash;forearm\n", ""},
		"tabs":                  {"line_id\tward\tsite\nL1\tAsh\tforearm\n", ""},
		"quoted":                {"\"line_id\",\"ward\",\"site\"\n\"L1\",\"Ash\",\"forearm\"\n", ""},
		"cells left out":        {"line_id,ward,site,side,gauge\n" + row, ""},
		"blank cells too many":  {"line_id,ward,site\nL1,Ash,forearm,, \n", ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s, err := interop.ReadSheet(strings.NewReader(c.text), options())
			if c.key == "" {
				require.NoError(t, err)
				require.Len(t, s.Rows, 1)
				return
			}
			var f *fault.Error
			require.ErrorAs(t, err, &f)
			require.Equal(t, c.key, f.Key)
			require.Equal(t, fault.Invalid, f.Kind)
			require.NotContains(t, say(line.Say(f.Key, f.Args...)), "[interop")
		})
	}
}

func TestReadSheet_Options(t *testing.T) {
	t.Parallel()
	o := options()
	o.Source = " "
	_, err := interop.ReadSheet(strings.NewReader(head), o)
	require.True(t, fault.Is(err, fault.Invalid))
	o = options()
	o.AsOf = o.Now.Add(time.Hour)
	_, err = interop.ReadSheet(strings.NewReader(head), o)
	require.True(t, fault.Is(err, fault.Invalid))
}

// Every key the code names stands in the catalogue, and so does all that a bad row says.
func TestWords_EveryMessageIsInTheCatalogue(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	named := 0
	for _, name := range files {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		for _, m := range regexp.MustCompile(`"(interop\.[a-z.-]*[a-z])"`).FindAllSubmatch(text, -1) {
			require.True(t, words.Known(string(m[1])), "%s: %s", name, m[1])
			named++
		}
	}
	require.Greater(t, named, 40)
}
