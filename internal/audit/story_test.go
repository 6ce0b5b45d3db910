package audit_test

import (
	"fmt"
	"regexp"
	"strconv"
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

func (s *story) entry(text string) error {
	end := len("2026-03-02 07:30")
	for _, which := range []string{" (first)", " (second)"} {
		if strings.HasPrefix(text[end:], which) {
			end += len(which)
		}
	}
	at, err := s.moment(text[:end])
	if err != nil {
		return err
	}
	said, details, _ := strings.Cut(strings.TrimSpace(text[end:]), ":")
	w := &writer{story: s, entry: line.Entry{Happened: at, Precision: line.ToMinute, Subject: "patient", Author: "nurse"}}
	for d := range strings.SplitSeq(details, ",") {
		if d = strings.TrimSpace(d); d != "" {
			w.details = append(w.details, d)
		}
	}
	if err := w.write(strings.Fields(said)); err != nil {
		return err
	}
	w.entry.ID = line.ID(fmt.Sprintf("e%d", len(s.entries)))
	w.entry.Kind = w.entry.Body.Kind()
	s.entries = append(s.entries, w.entry)
	return nil
}

// writer makes one entry from what a story says.
type writer struct {
	story   *story
	entry   line.Entry
	details []string
}

func (w *writer) write(said []string) error {
	of := said[len(said)-1]
	switch strings.Join(said[:max(1, len(said)-1)], " ") {
	case "admitted":
		w.entry.Body = line.Admission{Ward: line.ID(of)}
	case "moved":
		w.entry.Body = line.Transfer{Ward: line.ID(of)}
	case "discharged":
		var d line.Discharge
		for _, id := range w.details {
			d.LeftIn = append(d.LeftIn, line.ID(strings.TrimSuffix(id, " left in")))
		}
		w.entry.Body = d
	case "placed":
		return w.occasion(of, line.Occasion{Outcome: line.WithLine, Operator: line.Operator{Written: "KB"}, Asepsis: line.AsepsisFull, Dressing: line.Film})
	case "tried":
		return w.occasion(of, line.Occasion{Outcome: line.WithoutLine, Operator: line.Operator{Written: "KB"}})
	case "look":
		return w.review(of)
	case "not-seen":
		return w.notSeen(of)
	case "dressing":
		return w.dressing(of)
	case "removed":
		return w.removal(of)
	case "site-check":
		w.entry.Line, w.entry.Body = line.ID(of), line.SiteCheck{}
	case "patient":
		return w.facts()
	case "justified":
		return w.justification(of)
	default:
		if len(said) == 3 && said[0] == "justified" {
			return w.justification(said[2], said[1])
		}
		return fmt.Errorf("no such entry: %v", said)
	}
	return nil
}

// precision takes "day only" and "time not known".
func (w *writer) precision(d string) bool {
	switch d {
	case "day only":
		w.entry.Precision = line.ToDay
		day, err := time.ParseInLocation("2006-01-02", w.entry.Happened.Time().In(w.story.zone).Format("2006-01-02"), time.UTC)
		if err != nil {
			return false
		}
		w.entry.Happened = line.DayStart(day, w.story.zone)
	case "time not known":
		w.entry.Precision = line.NotKnown
	default:
		return false
	}
	return true
}

var tries = regexp.MustCompile(`^(\d+) attempts?( by one)?$`)

func (w *writer) occasion(id string, o line.Occasion) error {
	for _, d := range w.details {
		last := d[strings.LastIndexByte(d, ' ')+1:]
		gauge, notGauge := line.ParseGauge(d)
		tried := tries.FindStringSubmatch(d)
		switch {
		case w.precision(d):
		case o.Site.Parse(d) == nil, o.Side.Parse(d) == nil:
		case notGauge == nil:
			o.Gauge = gauge
		case tried != nil:
			n, _ := strconv.Atoi(tried[1])
			for i := range n {
				a := line.Attempt{Operator: o.Operator, Failed: o.Outcome == line.WithoutLine || i < n-1}
				if tried[2] == "" {
					a.Operator = line.Operator{Written: line.Text(fmt.Sprintf("operator %d", i/2))}
				}
				o.Attempts = append(o.Attempts, a)
			}
		case d == "operator not known":
			o.Operator = line.Operator{}
		case strings.HasPrefix(d, "dressing ") && o.Dressing.Parse(strings.TrimSuffix(last, "known")) == nil:
		case d == "dressing not known":
			o.Dressing = 0
		case strings.HasPrefix(d, "asepsis ") && o.Asepsis.Parse(last) == nil:
		case strings.HasPrefix(d, "by ") && o.PlacedBy.Parse(last) == nil:
		case strings.HasPrefix(d, "flush ") && o.Flush.Parse(last) == nil:
		case strings.HasPrefix(d, "for "):
			var p line.Purpose
			if err := p.Parse(last); err != nil {
				return err
			}
			o.Purposes = o.Purposes.With(p)
		default:
			return fmt.Errorf("no such detail: %q", d)
		}
	}
	w.entry.Line, w.entry.Body = line.ID(id), o
	return nil
}

func (w *writer) review(id string) error {
	var r line.Review
	for _, d := range w.details {
		var sign line.Sign
		var state line.State
		switch {
		case w.precision(d):
		case d == "nothing wrong":
			r.Dressing = line.SetOf(line.Intact)
		case d == "used":
			r.Used = line.Yes
		case d == "not used":
			r.Used = line.No
		case d == "needed":
			r.Needed = line.Yes
		case d == "not needed":
			r.Needed = line.No
		case strings.HasPrefix(d, "score "):
			n, err := strconv.Atoi(strings.TrimPrefix(d, "score "))
			if err != nil {
				return err
			}
			r.Score = &n
		case strings.HasPrefix(d, "flush "):
			if err := r.Flush.Parse(strings.TrimPrefix(d, "flush ")); err != nil {
				return err
			}
		case strings.HasPrefix(d, "kept until "):
			until, err := w.story.moment(strings.TrimPrefix(d, "kept until "))
			if err != nil {
				return err
			}
			r.KeepUntil = until
		case sign.Parse(d) == nil:
			r.Signs = r.Signs.With(sign)
		case strings.HasPrefix(d, "dressing ") && state.Parse(strings.TrimPrefix(d, "dressing ")) == nil:
			r.Dressing = r.Dressing.With(state)
		default:
			return fmt.Errorf("no such detail: %q", d)
		}
	}
	w.entry.Line, w.entry.Body = line.ID(id), r
	return nil
}

func (w *writer) notSeen(id string) error {
	var n line.NotSeen
	for _, d := range w.details {
		back, ok := strings.CutPrefix(d, "back ")
		if !ok {
			if err := n.Why.Parse(d); err != nil {
				return err
			}
			continue
		}
		var err error
		if n.Returns, err = w.story.moment(back); err != nil {
			return err
		}
	}
	if id != "all" {
		w.entry.Line = line.ID(id)
	}
	w.entry.Body = n
	return nil
}

func (w *writer) dressing(id string) error {
	d := line.Dressing{Material: line.Film}
	for _, detail := range w.details {
		if w.precision(detail) {
			continue
		}
		if err := d.Material.Parse(strings.TrimPrefix(detail, "not known")); err != nil {
			return err
		}
	}
	w.entry.Line, w.entry.Body = line.ID(id), d
	return nil
}

func (w *writer) removal(id string) error {
	var r line.Removal
	for _, d := range w.details {
		if w.precision(d) {
			continue
		}
		if err := r.Reason.Parse(strings.ReplaceAll(d, " ", "-")); err != nil {
			return err
		}
	}
	w.entry.Line, w.entry.Body = line.ID(id), r
	return nil
}

// facts reads "adult", "child", "spare left-arm fistula [until …]", "spare
// left-arm fistula no more", "watch child [until …]", "watch child no more".
func (w *writer) facts() error {
	var f line.Facts
	for _, d := range w.details {
		d, lifted := strings.CutSuffix(d, " no more")
		d, ends, _ := strings.Cut(d, " until ")
		var until line.Minute
		var err error
		if ends != "" {
			if until, err = w.story.moment(ends); err != nil {
				return err
			}
		}
		words := strings.Fields(d)
		switch {
		case words[0] == "spare" && len(words) == 3:
			l := line.Limit{Until: until, Lifted: lifted}
			if err = l.Limb.Parse(words[1]); err == nil {
				err = l.Why.Parse(words[2])
			}
			f.Limits = append(f.Limits, l)
		case words[0] == "watch" && len(words) == 2:
			v := line.Vigil{Until: until, Lifted: lifted}
			err = v.Why.Parse(words[1])
			f.Watches = append(f.Watches, v)
		default:
			err = f.Group.Parse(d)
		}
		if err != nil {
			return err
		}
	}
	w.entry.Body = f
	return nil
}

func (w *writer) justification(id string, rule ...string) error {
	if len(rule) == 0 { // of the patient
		id, rule = "", []string{id}
	}
	j := line.Justification{Rule: line.Rule(rule[0]), Why: "a reason", Clinician: "a clinician"}
	for _, d := range w.details {
		until, ok := strings.CutPrefix(d, "until ")
		switch {
		case d == "cannot be obtained":
			j.Unobtainable = true
		case ok:
			var err error
			if j.Until, err = w.story.moment(until); err != nil {
				return err
			}
		default:
			return fmt.Errorf("no such detail: %q", d)
		}
	}
	w.entry.Line, w.entry.Body = line.ID(id), j
	return nil
}
