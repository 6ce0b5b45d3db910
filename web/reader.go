package web

import (
	"errors"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// reader reads a posted form once into typed values, and notes what cannot be read.
type reader struct {
	form   url.Values
	zone   *time.Location
	now    line.Minute
	was    *line.Entry // what a correction replaces; nil: the entry is new
	before url.Values  // the form of what a correction replaces
	fields fault.Fields
}

// mayOmit reports whether an answer that is otherwise needed may be left out:
// the entry that is corrected did not have it either.
func (r *reader) mayOmit(name string) bool { return r.before != nil && r.before.Get(name) == "" }

func (r *reader) get(name string) string { return strings.TrimSpace(r.form.Get(name)) }

func (r *reader) wrong(name, key string, args ...any) {
	if _, known := r.fields[name]; !known {
		r.fields[name] = fault.Message{Key: key, Args: args}
	}
}

// err is everything that could not be read, or nil.
func (r *reader) err() error {
	if len(r.fields) == 0 {
		return nil
	}
	return &fault.Error{Kind: fault.Invalid, Key: "fault.fields", Fields: r.fields}
}

// codeOf reads one word of a vocabulary; need refuses an empty one.
func codeOf[V line.Vocabulary](r *reader, name string, need bool) line.Code[V] {
	return parsed[V](r, name, r.get(name), need)
}

func parsed[V line.Vocabulary](r *reader, name, word string, need bool) line.Code[V] {
	var c line.Code[V]
	if word == "" && need && !r.mayOmit(name) {
		r.wrong(name, "act.choose")
	}
	if err := c.Parse(word); err != nil {
		r.wrong(name, "act.unknown-word", "word", word)
	}
	return c
}

// setOf reads the ticked words of a vocabulary.
func setOf[V line.Vocabulary](r *reader, name string) line.Set[V] {
	var s line.Set[V]
	for _, word := range r.form[name] {
		s = s.With(parsed[V](r, name, word, false))
	}
	return s
}

func (r *reader) text(name string) line.Text { return line.Text(r.get(name)) }

// number reads a whole number; nil where the field is empty.
func (r *reader) number(name string, least, most int) *int {
	word := r.get(name)
	if word == "" {
		return nil
	}
	n, err := strconv.Atoi(word)
	if err != nil || n < least || n > most {
		r.wrong(name, "act.number", "least", least, "most", most)
		return nil
	}
	return &n
}

func (r *reader) gauge(name string, need bool) line.Gauge {
	g, err := line.ParseGauge(r.get(name))
	if err != nil || need && g == 0 && !r.mayOmit(name) {
		r.wrong(name, "act.choose")
	}
	return g
}

// moment reads a time field: when it was and how well that is known; isNow
// says that it is the moment of recording.
func (r *reader) moment(name string) (at line.Minute, precision line.Precision, isNow bool) {
	switch r.get(name) {
	case "", "now":
		return r.now, line.ToMinute, true
	case "ago":
		n := r.number(name+"-ago", 0, 60*24)
		if n == nil {
			r.wrong(name, "act.minutes-ago")
			return r.now, line.ToMinute, false
		}
		return r.now - line.Minute(*n), line.ToMinute, false
	case "unknown":
		if r.was != nil { // it was first seen when it was first recorded
			return r.was.Happened, line.NotKnown, false
		}
		return r.now, line.NotKnown, false
	case "day":
		day, err := time.Parse(time.DateOnly, r.get(name+"-date"))
		if err != nil {
			r.wrong(name, "act.date")
			return r.now, line.ToDay, false
		}
		return line.DayStart(day, r.zone), line.ToDay, false
	}
	return r.typed(name), line.ToMinute, false
}

// typed reads a date and a clock time on the ward's wall.
func (r *reader) typed(name string) line.Minute {
	wall, err := time.Parse("2006-01-02 15:04", r.get(name+"-date")+" "+r.get(name+"-clock"))
	if err != nil {
		r.wrong(name, "act.date-and-time")
		return r.now
	}
	which := map[string]line.Which{"first": line.First, "second": line.Second}[r.get(name+"-fold")]
	at, err := line.OnWall(wall, r.zone, which)
	var clock *line.WallError
	if errors.As(err, &clock) {
		key := "act.time-skipped"
		if clock.Twice {
			key = "act.time-twice"
		}
		r.wrong(name, key)
	}
	return at
}

// later reads an optional end: hours from now, as a number.
func (r *reader) later(name string, most int) line.Minute {
	n := r.number(name, 1, most)
	if n == nil {
		return 0
	}
	return r.now + line.Minute(*n*60)
}

// parsed0 reads an optional word of the vocabulary that like is of, parsed1 a needed one.
func parsed0[V line.Vocabulary](r *reader, name string, _ line.Code[V]) line.Code[V] {
	return codeOf[V](r, name, false)
}

func parsed1[V line.Vocabulary](r *reader, name string, _ line.Code[V]) line.Code[V] {
	return codeOf[V](r, name, true)
}

func ticked[V line.Vocabulary](r *reader, name string, _ line.Code[V]) line.Set[V] {
	return setOf[V](r, name)
}

// score reads a score with the name of its scale: that of before where it had one.
func (r *reader) score(was *int, scale string) (*int, string) {
	n := r.number("score", 0, 5)
	switch {
	case n == nil:
		return nil, ""
	case was != nil:
		return n, scale
	}
	return n, "vip"
}

// bed reads the bed: one of the ward's list, or another as typed.
func (r *reader) bed() line.Text {
	bed := r.text("bed")
	if other := r.text("bed_other"); other != "" {
		bed = other
	}
	if bed == "" && !r.mayOmit("bed") {
		r.wrong("bed", "act.bed")
	}
	if utf8.RuneCountInString(string(bed)) > 20 {
		r.wrong("bed", "act.bed-long")
	}
	return bed
}

// fillScore, fillCodes fill the fields of their name.
func fillScore(v url.Values, score *int) {
	if score != nil {
		v.Set("score", strconv.Itoa(*score))
	}
}

func fillCodes[V line.Vocabulary](v url.Values, name string, codes line.Set[V]) {
	for c := range codes.Codes() {
		v.Add(name, c.String())
	}
}
