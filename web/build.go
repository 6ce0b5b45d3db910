package web

import (
	"net/url"
	"strconv"
	"strings"
	"time"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// build makes the entries of an act from its form: the main one, or the
// correction that replaces one, what goes with it, and what is withdrawn for it.
func (s *Server) build(a act, o *occurrence, form url.Values) (desk.Act, error) {
	in := &reader{form: form, zone: o.ward.Location, now: o.now, was: o.was, fields: fault.Fields{}}
	if o.was != nil {
		in.before = url.Values{}
		a.fill(*o.was, in.before)
	}
	o.also = nil
	at, precision, now := in.moment("when")
	body := a.read(in, o)
	id := line.ID(in.get("entry"))
	e := line.Entry{ID: id, Kind: body.Kind(), Subject: o.patient.ID, Happened: at, Precision: precision, Body: body}
	switch {
	case o.was != nil:
		e.Line = o.was.Line
	case a.path == "admit":
		e.Subject = line.ID(in.get("subject"))
	case o.line != nil:
		e.Line = o.line.ID
	case e.Kind == line.KindOccasion:
		e.Line = line.ID(in.get("line"))
	}
	first, after := beside(e, o.also)
	main := e
	if o.was != nil {
		main, now = o.correction(e, in), false
	}
	entries := append(append(first, main), after...)
	entries = append(entries, withdrawals(in, main, o.now)...)
	return desk.Act{Entries: entries, Now: now, At: o.now, BedConfirmed: in.get("bed_confirmed") != ""}, in.err()
}

// beside makes the entries recorded with the main one, those before it and those after.
func beside(e line.Entry, all []also) (first, after []line.Entry) {
	for _, more := range all {
		if f, ok := more.body.(line.Facts); ok && f.Limits == nil && f.Watches == nil && f.Group == 0 && f.Need == nil {
			continue
		}
		one := e
		one.ID, one.Kind, one.Body, one.Line = e.ID+line.ID(more.suffix), more.body.Kind(), more.body, more.of
		if more.onLine {
			one.Line = e.Line
		}
		if more.first {
			first = append(first, one)
		} else {
			after = append(after, one)
		}
	}
	return first, after
}

// correction is the entry that puts e in the place of what was recorded.
func (o *occurrence) correction(e line.Entry, in *reader) line.Entry {
	fixed := *o.was
	fixed.Recorded = time.Time{} // it is the correction that is recorded
	fixed.Body, fixed.Happened, fixed.Precision = e.Body, e.Happened, e.Precision
	body := line.Correction{Root: o.root, Seen: o.seen, Why: in.text("why_corrected"), Replacement: fixed}
	return line.Entry{ID: e.ID, Kind: body.Kind(), Subject: fixed.Subject, Happened: o.now, Precision: line.ToMinute, Body: body}
}

// withdrawals are voids of what stands in the way of e and was ticked, each
// as root@seen. The reason is one for all; where another is asked for already, that.
func withdrawals(in *reader, e line.Entry, now line.Minute) []line.Entry {
	var voids []line.Entry
	for i, word := range in.form["withdraw"] {
		root, seen, ok := strings.Cut(word, "@")
		if !ok {
			in.wrong("withdraw", "act.unknown-word", "word", word)
			continue
		}
		why := in.text("withdraw_why")
		switch e.Body.(type) {
		case line.Correction:
			why = in.text("why_corrected")
		case line.Void:
			why = in.text("why")
		}
		if why == "" && e.Kind != line.KindVoid && e.Kind != line.KindCorrection {
			in.wrong("withdraw_why", "act.withdraw-why")
		}
		voids = append(voids, line.Entry{
			ID: e.ID + line.ID(".w"+strconv.Itoa(i)), Kind: line.KindVoid, Subject: e.Subject, Happened: now, Precision: line.ToMinute,
			Body: line.Void{Root: line.ID(root), Seen: line.ID(seen), Why: why},
		})
	}
	return voids
}
