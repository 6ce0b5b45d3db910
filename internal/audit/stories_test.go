package audit_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

const storyFolder = "../../testdata/stories"

// The stories are what a nurse can read: dated entries, a moment, what is
// expected of it. Their answers were worked out by hand from the definitions.
func TestStories(t *testing.T) {
	t.Parallel()
	names, err := filepath.Glob(filepath.Join(storyFolder, "*.txt"))
	require.NoError(t, err)
	require.NotEmpty(t, names)
	for _, name := range names {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txt"), func(t *testing.T) {
			t.Parallel()
			text, err := os.ReadFile(name)
			require.NoError(t, err)
			s, err := readStory(string(text))
			require.NoError(t, err, name)
			require.NotEmpty(t, s.title, name)
			require.NotEmpty(t, s.asked, name)
			book := audit.NewRulebook(s.changes)
			for _, q := range s.asked {
				s.check(t, fmt.Sprintf("%s:%d", filepath.Base(name), q.number), audit.Assess(book, s.marks(), q.at), q)
			}
		})
	}
}

// Every rule has a story in which it is found and one that asks in vain.
func TestStories_CoverEveryRule(t *testing.T) {
	t.Parallel()
	names, err := filepath.Glob(filepath.Join(storyFolder, "*.txt"))
	require.NoError(t, err)
	found, asked := map[line.Rule]bool{}, map[line.Rule]bool{}
	for _, name := range names {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		s, err := readStory(string(text))
		require.NoError(t, err, name)
		for _, q := range s.asked {
			for rule := range s.about {
				holds := slices.ContainsFunc(q.expect, func(e string) bool { return strings.HasPrefix(e, string(rule)+" ") })
				found[rule] = found[rule] || holds
				asked[rule] = asked[rule] || !holds
			}
		}
	}
	for _, r := range audit.Rules() {
		require.True(t, found[r.Rule], "%s is found in no story", r.Rule)
		require.True(t, asked[r.Rule], "%s is missing in no story", r.Rule)
	}
}

func (s *story) check(t *testing.T, where string, a audit.Assessment, q question) {
	t.Helper()
	var got, want []string
	add := func(prefix string, found []audit.Finding) {
		for _, f := range found {
			said(t, f.Why, a.At)
			said(t, f.Do, a.At)
			require.NotEmpty(t, f.Source, where)
			if s.about == nil || s.about[f.Rule] {
				got = append(got, prefix+s.show(f))
			}
		}
	}
	add("", a.Findings())
	add("answered ", a.Answered())
	for _, e := range q.expect {
		word, rest, _ := strings.Cut(e, " ")
		words := strings.Fields(rest)
		switch word {
		case "nothing":
		case "still-in":
			require.True(t, a.StillIn(s.lines[rest]), "%s: %s", where, e)
		case "not-still-in":
			require.False(t, a.StillIn(s.lines[rest]), "%s: %s", where, e)
		case "next":
			next, ok := s.next(a, words[0], line.Rule(words[1]))
			require.True(t, ok, "%s: %s", where, e)
			require.Equal(t, strings.Join(words[2:], " "), s.local(next.Due), "%s: %s", where, e)
		case "duty":
			s.duty(t, where, a, e, words)
		case "no-duty":
			require.Equal(t, -1, s.dutyAt(t, a, words), "%s: %s", where, e)
		default:
			want = append(want, e)
		}
	}
	slices.Sort(got)
	slices.Sort(want)
	require.Equal(t, strings.Join(want, "\n"), strings.Join(got, "\n"), where)
}

// show writes a finding as stories do.
func (s *story) show(f audit.Finding) string {
	text := fmt.Sprintf("%s %s %s since %s", f.Rule, s.name(f.Line), f.Severity, s.local(f.Since))
	if f.IsDuty {
		text += " overdue " + hours(f.Overdue)
	}
	return text
}

// hours writes "0m", "12h" or "1h30m".
func hours(d time.Duration) string {
	h, m := d/time.Hour, d%time.Hour/time.Minute
	switch {
	case h == 0:
		return fmt.Sprintf("%dm", m)
	case m == 0:
		return fmt.Sprintf("%dh", h)
	}
	return fmt.Sprintf("%dh%dm", h, m)
}

func (s *story) name(key line.Key) string {
	for name, k := range s.lines {
		if k == key {
			return name
		}
	}
	return "patient"
}

func (s *story) local(at line.Minute) string {
	t := at.Time().In(s.zone)
	text := t.Format("2006-01-02 15:04")
	if t.Add(time.Hour).Format("2006-01-02 15:04") == text {
		text += " (first)"
	}
	if t.Add(-time.Hour).Format("2006-01-02 15:04") == text {
		text += " (second)"
	}
	return text
}

func (s *story) next(a audit.Assessment, id string, rule line.Rule) (audit.Duty, bool) {
	for _, d := range a.Duties {
		if d.Line == s.lines[id] && d.Rule == rule && d.How == audit.Pending {
			return d, true
		}
	}
	return audit.Duty{}, false
}

// duty checks "RULE LINE due 2026-03-02 19:30 [(first)] HOW [by X] [ward W] [ended 2026-03-02 20:00]".
func (s *story) duty(t *testing.T, where string, a audit.Assessment, e string, words []string) {
	t.Helper()
	i := s.dutyAt(t, a, words)
	require.GreaterOrEqual(t, i, 0, "%s: %s: no such duty", where, e)
	d := a.Duties[i]
	rest := words[5:]
	if strings.HasPrefix(rest[0], "(") {
		rest = rest[1:]
	}
	require.Equal(t, rest[0], d.How.String(), "%s: %s", where, e)
	for rest = rest[1:]; len(rest) > 0; rest = rest[2:] {
		switch rest[0] {
		case "by":
			require.Equal(t, rest[1], d.MetBy.String(), "%s: %s", where, e)
		case "ward":
			require.Equal(t, s.wards[rest[1]], d.Ward, "%s: %s", where, e)
		case "ended":
			require.Equal(t, strings.Join(rest[1:], " "), s.local(d.Ended), "%s: %s", where, e)
			return
		default:
			require.Fail(t, "not understood", "%s: %s", where, e)
		}
	}
}

func (s *story) dutyAt(t *testing.T, a audit.Assessment, words []string) int {
	t.Helper()
	due, err := s.moment(strings.Join(words[3:min(len(words), 6)], " "))
	if err != nil {
		due, err = s.moment(strings.Join(words[3:5], " "))
	}
	require.NoError(t, err, words)
	return slices.IndexFunc(a.Duties, func(d audit.Duty) bool {
		return d.Rule == line.Rule(words[0]) && d.Line == s.lines[words[1]] && d.Due == due
	})
}
