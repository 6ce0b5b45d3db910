package audit_test

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// story is a clinical story, read from a text file; testdata/stories/README.md
// tells how one is written.
type story struct {
	title   string
	about   map[line.Rule]bool // nil: every rule
	zone    *time.Location     // of the times in the file: that of the first ward
	changes []audit.Change
	entries []line.Entry
	asked   []question
	wards   map[string]line.Key
	lines   map[string]line.Key
}

// question is a moment asked about, with what is expected then.
type question struct {
	number int
	at     line.Minute
	expect []string
}

// Keys of the ids used in stories: ids are "ward A", "line 1", "patient".
func (s *story) SubjectKey(line.ID) line.Key { return 1 }

func (s *story) LineKey(id line.ID) line.Key { return numbered(s.lines, string(id), 100) }

func (s *story) WardKey(id line.ID) line.Key { return numbered(s.wards, string(id), 10) }

func numbered(keys map[string]line.Key, id string, base line.Key) line.Key {
	if keys[id] == 0 {
		keys[id] = base + line.Key(len(keys)) + 1
	}
	return keys[id]
}

func (s *story) marks() []line.Mark {
	var marks []line.Mark
	for i, e := range s.entries {
		marks = append(marks, line.Marks(e, s, int64(i+1), int64(i+1))...)
	}
	return marks
}

func readStory(text string) (*story, error) {
	s := &story{wards: map[string]line.Key{}, lines: map[string]line.Key{}, zone: time.UTC}
	for i, raw := range strings.Split(text, "\n") {
		if err := s.line(i+1, raw); err != nil {
			return nil, fmt.Errorf("line %d: %q: %w", i+1, raw, err)
		}
	}
	return s, nil
}

var dated = regexp.MustCompile(`^\d{4}-\d\d-\d\d \d\d:\d\d`)

func (s *story) line(number int, raw string) error {
	if i := strings.Index(raw, "#"); i >= 0 {
		raw = raw[:i]
	}
	text := strings.TrimSpace(raw)
	word, rest, _ := strings.Cut(text, " ")
	rest = strings.TrimSpace(rest)
	switch {
	case text == "":
		return nil
	case raw[0] == ' ' || raw[0] == '\t':
		if len(s.asked) == 0 {
			return fmt.Errorf("expected of no moment")
		}
		q := &s.asked[len(s.asked)-1]
		q.expect = append(q.expect, text)
		return nil
	case word == "title":
		s.title = rest
		return nil
	case word == "about":
		s.about = map[line.Rule]bool{}
		for _, r := range strings.Fields(rest) {
			s.about[line.Rule(r)] = true
		}
		return nil
	case word == "ward":
		return s.ward(rest)
	case word == "policy":
		return s.policy(rest)
	case word == "at":
		at, err := s.moment(rest)
		s.asked = append(s.asked, question{number: number, at: at})
		return err
	case dated.MatchString(text):
		return s.entry(text)
	}
	return fmt.Errorf("not understood")
}

// ward reads "A Europe/London 07:30 19:30", "B Europe/London every 8h" or
// "A Europe/London 07:00 19:00 from 2026-03-02 12:00".
func (s *story) ward(text string) error {
	text, from, later := strings.Cut(text, " from ")
	words := strings.Fields(text)
	if len(words) < 2 {
		return fmt.Errorf("a ward has a name and a zone")
	}
	zone, err := time.LoadLocation(words[1])
	if err != nil {
		return err
	}
	if len(s.wards) == 0 {
		s.zone = zone
	}
	c := audit.Change{Ward: s.WardKey(line.ID(words[0])), Values: audit.WardValues{Zone: zone}, Known: int64(len(s.changes) + 1)}
	if later {
		if c.From, err = s.moment(from); err != nil {
			return err
		}
	}
	for i, w := range words[2:] {
		if w == "every" {
			c.Values.Every, err = time.ParseDuration(words[2+i+1])
			s.changes = append(s.changes, c)
			return err
		}
		t, err := time.Parse("15:04", w)
		if err != nil {
			return err
		}
		c.Values.Shifts = append(c.Values.Shifts, line.ShiftTime(t.Hour()*60+t.Minute()))
	}
	s.changes = append(s.changes, c)
	return nil
}

// policy reads "review-overdue.grace = "0m"", with "from 2026-03-02 12:00: " before it or for all time.
func (s *story) policy(text string) error {
	c := audit.Change{From: -line.Far, Known: int64(len(s.changes) + 1)}
	if when, toml, ok := strings.Cut(text, ": "); ok && strings.HasPrefix(when, "from ") {
		from, err := s.moment(strings.TrimPrefix(when, "from "))
		if err != nil {
			return err
		}
		c.From, text = from, toml
	}
	var err error
	c.Policy, err = audit.ParsePolicy("story", []byte(strings.ReplaceAll(text, "; ", "\n")))
	s.changes = append(s.changes, c)
	return err
}

// moment reads "2026-03-02 07:30" on the wall of the first ward; in the hour
// that happens twice, "first" or "second" follows.
func (s *story) moment(text string) (line.Minute, error) {
	text, which, _ := strings.Cut(strings.TrimSpace(text), " (")
	wall, err := time.Parse("2006-01-02 15:04", text)
	if err != nil {
		return 0, err
	}
	return line.OnWall(wall, s.zone, map[string]line.Which{"first)": line.First, "second)": line.Second}[which])
}
