package web

import (
	"net/url"
	"strings"

	"dwellbook/internal/line"
)

func readAdmission(r *reader, o *occurrence) line.Body {
	ward := o.ward.Ward.Ward
	if r.was == nil {
		o.also = append(o.also, also{suffix: ".facts", body: factsOf(r)})
	} else {
		ward = r.ward(o)
	}
	reference := strings.ToUpper(r.get("reference"))
	if o.house.CheckReference(reference) != nil && reference != r.before.Get("reference") {
		r.wrong("reference", "desk.reference-pattern", "example", o.house.Hospital.Example)
	}
	return line.Admission{Ward: ward, Bed: r.bed(), Reference: line.Text(reference)}
}

func fillAdmission(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.Admission)
	v.Set("ward", string(b.Ward))
	v.Set("bed", string(b.Bed))
	v.Set("reference", string(b.Reference))
}

func readTransfer(r *reader, o *occurrence) line.Body {
	return line.Transfer{Ward: r.ward(o), Bed: r.bed()}
}

func fillTransfer(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.Transfer)
	v.Set("ward", string(b.Ward))
	v.Set("bed", string(b.Bed))
}

// ward reads an open ward, or the one that stood there before. A bed chosen
// from another ward's list is asked for again.
func (r *reader) ward(o *occurrence) line.ID {
	word := r.get("ward")
	w, known := o.house.Ward(line.ID(word))
	switch {
	case word == "":
		r.wrong("ward", "act.choose")
	case !known || w.Closed && word != r.before.Get("ward"):
		r.wrong("ward", "fault.no-such-ward")
	case r.get("beds_of") != "" && r.get("beds_of") != word && r.get("bed_other") == "":
		r.wrong("bed", "act.bed-of-ward", "ward", w.Name)
	}
	return line.ID(word)
}
