package interop_test

import (
	"bytes"
	"errors"
	"io"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/fault"
	"dwellbook/internal/interop"
	"dwellbook/internal/line"
)

func stringsReader(s string) io.Reader { return strings.NewReader(s) }

type kept struct {
	n         int
	canonical string
	texts     []line.Sealed
}

func readEntries(t require.TestingT, text string) []kept {
	var all []kept
	err := interop.ReadEntries(strings.NewReader(text), func(n int, canonical []byte, texts []line.Sealed) error {
		all = append(all, kept{n, string(canonical), texts})
		return nil
	})
	require.NoError(t, err)
	return all
}

func opened(t require.TestingT, k kept) line.Entry {
	e, err := line.Decode([]byte(k.canonical), func(hash string) (string, bool) {
		for _, s := range k.texts {
			if s.Hash == hash {
				return s.Text, true
			}
		}
		return "", false
	})
	require.NoError(t, err)
	return e
}

func TestEntries_GoOutAndComeInByteForByte(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	var want []line.Entry
	s := read(t, file(t, "clean.csv"), options())
	for _, r := range s.Rows {
		for _, e := range r.Entries {
			canonical, texts, err := line.Canonical(e, func() string { return "salt<&>" })
			require.NoError(t, err)
			require.NoError(t, interop.WriteEntry(&out, canonical, texts))
			want = append(want, e)
		}
	}
	text := out.String()
	got := readEntries(t, "\ufeff"+strings.ReplaceAll(text, "\n", "\r\n")+"\n")
	require.Len(t, got, len(want))
	out.Reset()
	for i, k := range got {
		require.Equal(t, i+1, k.n)
		require.Equal(t, want[i], opened(t, k))
		require.NoError(t, interop.WriteEntry(&out, []byte(k.canonical), k.texts))
	}
	require.Equal(t, text, out.String())
}

const someEntry = `{"id":"e1","kind":"removal","subject":"p","line":"l","author":"a","happened":"2026-03-02T08:20:00Z","precision":"minute","body":{"reason":"leak"%s}}`

func lineOf(extra string) string {
	return `{"entry":` + strings.Replace(someEntry, "%s", extra, 1) + "}\n"
}

func TestReadEntries_SealsWhatStandsBare(t *testing.T) {
	t.Parallel()
	for _, extra := range []string{
		`,"note":{"text":"by the window"}`, `,"note":"by the window"`, `,"NOTE":"by the window"`, `,"later":[{"n":1}],"note":"by the window"`,
	} {
		k := readEntries(t, lineOf(extra))[0]
		require.NotContains(t, k.canonical, "window", extra)
		require.Equal(t, line.Text("by the window"), opened(t, k).Body.(line.Removal).Note, extra)
		require.Len(t, k.texts, 1)
		require.NotEqual(t, k.texts[0].Salt, readEntries(t, lineOf(extra))[0].texts[0].Salt, "a salt is used once")
		require.Equal(t, strings.Contains(extra, "later"), strings.Contains(k.canonical, `"later":[{"n":1}]`), "what is not known is kept")
	}
	correction := `{"entry":{"id":"c","kind":"correction","author":"a","happened":"2026-03-02T08:20:00Z","precision":"minute","body":{"root":"e1","seen":"e1","why":"wrong arm","replacement":` +
		strings.Replace(someEntry, "%s", `,"note":"at night"`, 1) + `}}}`
	k := readEntries(t, correction)[0]
	require.Len(t, k.texts, 2)
	require.NotContains(t, k.canonical, "wrong arm")
	require.NotContains(t, k.canonical, "at night")
	facts := `{"entry":{"id":"o","kind":"occasion","subject":"p","line":"l","author":"a","happened":"2026-03-02T08:20:00Z","precision":"minute","body":{"outcome":"line","attempts":[{"operator":{"written":"JB"},"failed":false}]}}}`
	k = readEntries(t, facts)[0]
	require.NotContains(t, k.canonical, "JB")
	require.Equal(t, line.Text("JB"), opened(t, k).Body.(line.Occasion).Attempts[0].Operator.Written)
}

func TestReadEntries_RefusesWithTheLine(t *testing.T) {
	t.Parallel()
	good := lineOf("")
	for name, c := range map[string]struct {
		text string
		key  string
	}{
		"no JSON":                     {"x", "interop.entry-unreadable"},
		"no object":                   {"[]", "interop.entry-unreadable"},
		"no entry":                    {"{}", "interop.entry-unreadable"},
		"an entry without a wrapper":  {strings.TrimSuffix(good, "}\n")[9:], "interop.entry-unreadable"},
		"two in one line":             {strings.TrimSpace(good) + good, "interop.entry-unreadable"},
		"an unknown kind":             {strings.Replace(good, "removal", "repair", 1), "interop.entry-unreadable"},
		"an unknown code":             {strings.Replace(good, "leak", "drip", 1), "interop.entry-unreadable"},
		"no time":                     {strings.Replace(good, "2026-03-02T08:20:00Z", "yesterday", 1), "interop.entry-unreadable"},
		"a text beside something":     {lineOf(`,"note":{"text":"x","lang":"en"}`), "interop.entry-unreadable"},
		"a text that is a number":     {lineOf(`,"note":5`), "interop.entry-unreadable"},
		"a text in capitals":          {lineOf(`,"note":{"TEXT":"x"}`), "interop.entry-unreadable"},
		"a note twice":                {lineOf(`,"note":"x","Note":"y"`), "interop.entry-unreadable"},
		"a text with another hash":    {strings.Replace(lineOf(`,"note":{"sealed":"h"}`), "}\n", `,"texts":[{"hash":"h","salt":"s","text":"x"}]}`, 1), "interop.entry-unreadable"},
		"a text of no entry":          {strings.Replace(good, "}\n", `,"texts":[{"hash":"`+line.Seal("s", "x").Hash+`","salt":"s","text":"x"}]}`, 1), "interop.entry-unreadable"},
		"longer than an entry can be": {lineOf(`,"note":"` + strings.Repeat("x", interop.LongestEntry) + `"`), "interop.entry-long"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			n := 0
			err := interop.ReadEntries(strings.NewReader(good+"\n"+c.text), func(int, []byte, []line.Sealed) error { n++; return nil })
			var f *fault.Error
			require.ErrorAs(t, err, &f)
			require.Equal(t, c.key, f.Key)
			require.Equal(t, []any{"line", 3}, f.Args[:2])
			require.Equal(t, 1, n, "what stood before was handed on")
			require.NotContains(t, say(line.Say(f.Key, f.Args...)), "[interop")
		})
	}
}

func TestReadEntries_PassesOnTheCallersError(t *testing.T) {
	t.Parallel()
	full := errors.New("disk full")
	err := interop.ReadEntries(strings.NewReader(lineOf("")), func(int, []byte, []line.Sealed) error { return full })
	require.Equal(t, full, err)
}

func TestCSVWriter_NoCellIsAFormula(t *testing.T) {
	t.Parallel()
	// The starts are those of OWASP's page on CSV injection.
	var b bytes.Buffer
	w := interop.NewCSVWriter(&b)
	require.NoError(t, w.Write([]string{"=1+1", "+44", "-5", "@SUM(A1)", "\tx", "\rx", "\nx", "＝1", "plain", "", "a=b", "5-3"}))
	require.NoError(t, w.Flush())
	require.Equal(t, "'=1+1,'+44,'-5,'@SUM(A1),'\tx,\"'\rx\",\"'\nx\",'＝1,plain,,a=b,5-3\n", b.String())
	require.Equal(t, line.Text("=JB"), entryOf(t, one(t, options(), "operator='=JB"), line.KindOccasion).Body.(line.Occasion).Operator.Written)
}

func FuzzReadEntries(f *testing.F) {
	f.Add(lineOf(""))
	f.Add(lineOf(`,"note":"by the window"`))
	f.Add(lineOf(`,"note":{"sealed":"x"},"x":{"text":"y"}`))
	f.Add(`{"entry":{"kind":"void","id":"v","body":{"why":null}},"texts":null}`)
	f.Fuzz(func(t *testing.T, text string) {
		var out bytes.Buffer
		n := 0
		_ = interop.ReadEntries(strings.NewReader(text), func(_ int, canonical []byte, texts []line.Sealed) error {
			n++
			require.NotContains(t, string(canonical), "\n")
			return interop.WriteEntry(&out, canonical, texts)
		})
		again := readEntries(t, out.String())
		require.Len(t, again, n)
		var twice bytes.Buffer
		for _, k := range again {
			require.NoError(t, interop.WriteEntry(&twice, []byte(k.canonical), k.texts))
		}
		require.Equal(t, out.String(), twice.String())
	})
}

func FuzzReadSheet(f *testing.F) {
	for _, name := range []string{"messy.csv", "clean.csv"} {
		text, err := os.ReadFile(sheets + name)
		require.NoError(f, err)
		f.Add(string(text))
	}
	f.Add("line_id;ward;site;inserted_at\nL1;Ash;\"L ACF\";2026-03-02 09:00 first\n")
	f.Add("line_id,ward,site,problem\n'=1,Ash,hand,x,y\n")
	f.Fuzz(func(t *testing.T, text string) {
		o := options()
		s, err := interop.ReadSheet(strings.NewReader(text), o)
		if err != nil {
			return
		}
		for _, r := range s.Rows {
			for _, e := range r.Entries {
				require.Empty(t, line.Check(e, line.MinuteOf(o.Now)))
				require.False(t, interop.Changed(e, e))
			}
		}
		var bad bytes.Buffer
		require.NoError(t, interop.WriteBad(&bad, s, say))
		for _, b := range s.Bad {
			require.NotEmpty(t, b.Problems)
		}
	})
}

// A time reads as one moment, or as none, and in the zone it reads as it was written.
func FuzzTimes(f *testing.F) {
	for _, cell := range []string{"2026-10-25 01:30", "2026-10-25 01:30 first", "25/10/2026", "2026-03-29 01:30", "2026-03-02T08:20:31+01:00", "1:2 -0000"} {
		f.Add(cell)
	}
	m, err := interop.ParseMapping("m", []byte(`date_formats = ["DD/MM/YYYY HH:mm", "D-MMM-YY H.mm", "D.M.YY"]`))
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, cell string) {
		o := options()
		o.Mapping = m
		s := one(t, o, "inserted_at="+cell)
		require.Equal(t, 1, len(s.Rows)+len(s.Bad))
		for _, r := range s.Rows {
			for _, e := range r.Entries {
				require.LessOrEqual(t, e.Happened, line.MinuteOf(o.Now)+2)
				require.Positive(t, e.Happened)
			}
		}
	})
}
