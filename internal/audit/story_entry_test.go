package audit_test

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"dwellbook/internal/line"
)

// entry reads a dated line of a story.
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
// left-arm fistula no more", "watch child [until …]", "watch child no more",
// "needs 3000 mL/h blood".
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
		case words[0] == "needs" && len(words) == 4: // needs 3000 mL/h blood
			f.Need = &line.Need{}
			if f.Need.MillilitresPerHour, err = strconv.Atoi(words[1]); err == nil {
				err = f.Need.For.Parse(words[3])
			}
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
