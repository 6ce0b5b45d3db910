package web

import (
	"bytes"
	"context"
	"net/http"
	"net/url"
	"slices"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// advise answers with the findings of the line in the form, before it is recorded.
func (s *Server) advise(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	o, err := s.occurrenceOf(r, actOccasion)
	if err != nil {
		return err
	}
	r = s.onWard(r, o.ward)
	advice := s.advice(r.Context(), r, o, form.Values)
	var b bytes.Buffer
	if err := view.AdviceFindings(advice).Render(r.Context(), &b); err != nil {
		return err
	}
	return send(w, r, http.StatusOK, "text/html; charset=utf-8", b.Bytes())
}

// advice is what would be found, and how such lines have lasted here.
func (s *Server) advice(ctx context.Context, r *http.Request, o *occurrence, form url.Values) view.PlaceAdvice {
	a := view.PlaceAdvice{Needed: s.needed(o, form)}
	var site line.Site
	notSite := site.Parse(form.Get("site"))
	gauge, notGauge := line.ParseGauge(form.Get("gauge"))
	if a.Evidence, _ = s.desk.Evidence(ctx, personOf(r)); a.Evidence != nil && notSite == nil && notGauge == nil && site != 0 && gauge != 0 {
		here := a.Evidence.Of(site, gauge)
		a.Here = &here
	}
	if form.Get("site") == "" || form.Get("gauge") == "" {
		return a
	}
	what, _ := s.build(actOccasion, o, form)
	for i := range what.Entries {
		if b, ok := what.Entries[i].Body.(line.Occasion); ok {
			b.Outcome = line.WithLine
			what.Entries[i].Body = b
		}
	}
	about := slices.DeleteFunc(what.Entries, func(e line.Entry) bool { return e.Kind != line.KindOccasion && e.Kind != line.KindFacts })
	var err error
	a.Findings, err = s.desk.Advise(ctx, personOf(r), desk.Act{Entries: about, Now: what.Now})
	a.Known = err == nil
	return a
}

// needed holds the hospital's sizes against the flow that the form says is
// needed, else the one recorded.
func (s *Server) needed(o *occurrence, form url.Values) view.Needed {
	need, _ := audit.NeedAt(&o.subject, s.desk.Now())
	in := &reader{form: form, fields: fault.Fields{}}
	if typed := in.need(); typed != nil {
		need = *typed
	}
	return view.Needed{Need: need, Judged: o.house.Rulebook.PolicyAt(s.desk.Now()).Judge(need)}
}
