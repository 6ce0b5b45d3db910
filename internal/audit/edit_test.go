package audit_test

import (
	"bytes"
	"errors"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// shapes are files that say things in the ways that TOML allows (TOML 1.0.0).
var shapes = []string{
	"",
	"# ours\n",
	string(audit.DefaultPolicy().Text()),
	strings.ReplaceAll(string(audit.DefaultPolicy().Text()), "\n", "\r\n"),
	"[review-overdue]\ngrace = \"1h\" # agreed in March",
	"shifts = [\n  \"07:00\", # day\n  \"15:00\", \"23:00\",\n]\n\n[need-daily]\nwhy = \"\"\"\nThree \"quoted\"\nlines\"\"\"\n# kept\n",
	"review-overdue.grace = '45m'\nreview-overdue.closer_watch.child = \"2h\"\n[dwell-check]\n",
	"[review-overdue.closer_watch]\nchild = \"1h\"\n[limb-restricted]\n  on = false   # for now\n",
	"[review-overdue]\ncloser_watch = { child = \"1h\", sedated-or-confused = '2h' } # both\n\"grace\" = \"20m\"\n",
	"review-overdue = { on = true, closer_watch = {} }\nidle-line = {}\n",
	"still_in_after = \"4d\" # no word for four days\n[review-overdue]\ncloser_watch.child = \"1h\"\n[several-lines]\nlines = 4",
}

// figures is every key of a policy with its value.
func figures(p *audit.Policy) map[string]string {
	all := map[string]string{}
	for _, f := range fields(p) {
		all[f.Key] = f.Value
	}
	return all
}

func fields(p *audit.Policy) []audit.Field {
	all := p.Fields("")
	for _, r := range audit.Rules() {
		all = append(all, p.Fields(r.Rule)...)
	}
	return all
}

func typedValue(t *rapid.T, f audit.Field) string {
	if f.Optional && rapid.Bool().Draw(t, "clear") {
		return ""
	}
	switch f.Form {
	case audit.SpanForm:
		return rapid.SampledFrom([]string{"0m", "1m", "15m", "30m", "45m", "1h", "90m", "2h", "4h", "8h", "12h", "24h", "1d12h", "3d", "7d", "14d", "30d"}).Draw(t, "span")
	case audit.NumberForm:
		return rapid.SampledFrom([]string{"1", "2", "3", "4", "5", "6", "20"}).Draw(t, "number")
	case audit.ChoiceForm:
		return rapid.SampledFrom(f.Choices).Draw(t, "choice")
	case audit.FlagForm:
		return rapid.SampledFrom([]string{"true", "false"}).Draw(t, "flag")
	case audit.TimesForm:
		return rapid.SampledFrom([]string{"07:30, 19:30", "07:00,15:00,23:00", "6:45 14:45 21:15", "12:00"}).Draw(t, "times")
	}
	return rapid.StringOf(rapid.RuneFrom([]rune("ab #\"'\\=[]{},.\n\té€\x01"))).Filter(func(s string) bool { return strings.TrimSpace(s) != "" }).Draw(t, "sentence")
}

// Editing one key to any value gives a file that differs in that key alone, and
// that keeps every comment that does not stand in the value itself.
func TestEdit_ChangesOneValueAndNothingElse(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SampledFrom(shapes).Draw(t, "file")
		for range rapid.IntRange(1, 4).Draw(t, "edits") {
			p, err := audit.ParsePolicy("before", []byte(text))
			require.NoError(t, err)
			f := rapid.SampledFrom(fields(p)).Draw(t, "key")
			word := typedValue(t, f)
			edited, err := p.Edit(map[string]string{f.Key: word})
			if err != nil {
				var wrong audit.PolicyErrors
				require.True(t, errors.As(err, &wrong))
				require.Len(t, wrong, 1)
				require.Equal(t, f.Key, wrong[0].Key)
				require.Equal(t, f.Allowed, wrong[0].Allowed)
				return
			}
			after, err := audit.ParsePolicy("after", edited)
			require.NoError(t, err, "%s", edited)
			was, is := figures(p), figures(after)
			require.Equal(t, asWritten(t, f, word), is[f.Key], "%s", edited)
			if was[f.Key] == is[f.Key] {
				require.Equal(t, text, string(edited), "an edit that changes nothing")
			}
			delete(was, f.Key)
			delete(is, f.Key)
			require.Equal(t, was, is, "%s", edited)
			require.LessOrEqual(t, linesChanged(text, string(edited)), 7, "%s", edited)
			text = string(edited)
		}
	})
}

// asWritten is what a policy makes of the word alone.
func asWritten(t *rapid.T, f audit.Field, word string) string {
	word = strings.Join(strings.Fields(word), " ")
	switch f.Form {
	case audit.SentenceForm:
		if word == strings.Join(strings.Fields(f.Value), " ") {
			return f.Value
		}
		return word
	case audit.NumberForm, audit.ChoiceForm, audit.FlagForm:
		return word
	}
	if word == "" {
		return ""
	}
	same := map[string]string{
		"24h": "24h", "1d12h": "36h", "90m": "1h30m", "07:00,15:00,23:00": "07:00, 15:00, 23:00", "6:45 14:45 21:15": "06:45, 14:45, 21:15",
	}
	if shown, ok := same[word]; ok {
		return shown
	}
	return word
}

// linesChanged counts the lines of either text that the other does not have.
func linesChanged(a, b string) int {
	count := map[string]int{}
	for _, l := range strings.Split(a, "\n") {
		count[strings.TrimSpace(l)]++
	}
	for _, l := range strings.Split(b, "\n") {
		count[strings.TrimSpace(l)]--
	}
	n := 0
	for _, c := range count {
		n += max(c, -c)
	}
	return n
}

func TestEdit_RewritesOnlyTheLine(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, before, key, typed, after string }{
		{"a comment on the line stays", "[review-overdue]\ngrace = \"1h\" # agreed\n", "review-overdue.grace", "45m",
			"[review-overdue]\ngrace = \"45m\" # agreed\n"},
		{"a key left out goes to its table", "# ours\n[review-overdue]\ngrace = \"1h\"\n\n# next\n[need-daily]\n", "review-overdue.severity", "act-now",
			"# ours\n[review-overdue]\ngrace = \"1h\"\nseverity = \"act-now\"\n\n# next\n[need-daily]\n"},
		{"a rule left out gets a table", "# ours", "several-lines.lines", "4", "# ours\n\n[several-lines]\nlines = 4\n"},
		{"a general key goes to the top", "# ours\n[need-daily]\n", "still_in_after", "4d", "still_in_after = \"4d\"\n# ours\n[need-daily]\n"},
		{"an inline table", "[review-overdue]\ncloser_watch = { child = \"1h\" }\n", "review-overdue.closer_watch.irritant-running", "2h",
			"[review-overdue]\ncloser_watch = { irritant-running = \"2h\", child = \"1h\" }\n"},
		{"not set any more", "[review-overdue]\nevery = \"8h\" # was\n# kept\n", "review-overdue.every", "", "[review-overdue]\n# kept\n"},
		{"the same in other words", "[need-daily]\nevery = \"1d\"\n", "need-daily.every", "24h", "[need-daily]\nevery = \"1d\"\n"},
		{"quotes", "[need-daily]\nwhy = 'old'\n", "need-daily.why", `so "called"`, "[need-daily]\nwhy = \"so \\\"called\\\"\"\n"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			p, err := audit.ParsePolicy("ours", []byte(tt.before))
			require.NoError(t, err)
			after, err := p.Edit(map[string]string{tt.key: tt.typed})
			require.NoError(t, err)
			require.Equal(t, tt.after, string(after))
		})
	}
}

func TestEdit_SaysEverythingThatIsWrong(t *testing.T) {
	t.Parallel()
	_, err := audit.DefaultPolicy().Edit(map[string]string{
		"shifts": "late", "review-overdue.grace": "5h", "act-on-phlebitis.score": "two", "need-daily.why": " ", "across-joint.on": "true",
	})
	var wrong audit.PolicyErrors
	require.True(t, errors.As(err, &wrong))
	said := map[string]string{}
	for _, e := range wrong {
		require.Positive(t, e.Line)
		said[e.Key] = e.Problem
	}
	require.Equal(t, map[string]string{
		"shifts": `"late" is no time of day`, "review-overdue.grace": "5h is out of range",
		"act-on-phlebitis.score": "two is no whole number", "need-daily.why": "nothing is said",
	}, said)
}

func TestParsePolicy_SaysEverythingThatIsWrongInOrderOfLine(t *testing.T) {
	t.Parallel()
	_, err := audit.ParsePolicy("ours", []byte("[need-daily]\nevery = \"1w\"\nscore = 2\n[dwell-check]\nfirst = 3\n"))
	var wrong audit.PolicyErrors
	require.True(t, errors.As(err, &wrong))
	var keys []string
	for _, e := range wrong {
		keys = append(keys, e.Key)
	}
	require.Equal(t, []string{"need-daily.every", "need-daily.score", "dwell-check.first"}, keys)
	require.Equal(t, 3, strings.Count(err.Error(), "ours:"))
}

func TestFields_AreEveryKeyOfTheFile(t *testing.T) {
	t.Parallel()
	all := slices.Collect(maps.Keys(figures(audit.DefaultPolicy())))
	require.Subset(t, all, []string{"shifts", "still_in_after", "review-overdue.closer_watch.child", "limb-restricted.fistula_severity", "idle-line.source"})
	require.Nil(t, audit.DefaultPolicy().Fields(line.Rule("no-such-rule")))
	for _, f := range fields(audit.DefaultPolicy()) {
		require.NotEmpty(t, f.Allowed, f.Key)
	}
}

// Whatever valid file there is, an edit of it can be read again.
func FuzzEdit(f *testing.F) {
	for _, s := range shapes {
		f.Add(s, "review-overdue.closer_watch.child", "3h")
	}
	f.Fuzz(func(t *testing.T, text, key, word string) {
		p, err := audit.ParsePolicy("fuzz", []byte(text))
		if err != nil {
			return
		}
		edited, err := p.Edit(map[string]string{key: word})
		if err != nil {
			return
		}
		after, err := audit.ParsePolicy("fuzz", edited)
		require.NoError(t, err, "%q", edited)
		was, is := figures(p), figures(after)
		delete(was, key)
		delete(is, key)
		require.Equal(t, was, is)
		if bytes.Equal(p.Text(), edited) {
			require.Equal(t, p.Name(), after.Name())
		}
	})
}
