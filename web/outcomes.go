package web

import (
	"bytes"
	"net/http"
	"net/url"
	"time"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/web/chart"
	"dwellbook/web/view"
)

// usualYear is how far back outcomes are told where no day is given: a year has
// every season once.
const usualYear = 365

// endedShown is how many lines stand below the charts.
const endedShown = 50

// outcomesAsked reads what the address asks of outcomes and answers it.
func (s *Server) outcomesAsked(r *http.Request, q url.Values) (page view.Outcomes, err error) {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return page, err
	}
	period, err := s.daysAsked(q, h, usualYear)
	if err != nil {
		return page, err
	}
	if page.By, err = outcomes.ParseBy(q.Get("by")); err != nil {
		return page, fault.Field("by", "compliancepage.no-grouping")
	}
	if page.Cause, err = causeAsked(q.Get("cause")); err != nil {
		return page, err
	}
	page.Of, err = s.desk.Outcomes(r.Context(), personOf(r), period, page.By == outcomes.ByOperatorRole)
	return page, err
}

// daysAsked is the period of two days, both part of it; usual is how many where
// none is given.
func (s *Server) daysAsked(q url.Values, h *desk.House, usual int) (period line.Stretch, err error) {
	y, m, d := s.desk.Now().Time().In(h.Zone).Date()
	today := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	from, err := day(q, "from", today.AddDate(0, 0, 1-usual))
	if err != nil {
		return period, err
	}
	to, err := day(q, "to", today)
	if err != nil {
		return period, err
	}
	if to.Before(from) {
		return period, fault.Field("to", "desk.period-empty")
	}
	return line.Stretch{From: line.DayStart(from, h.Zone), Until: line.DayStart(to.AddDate(0, 0, 1), h.Zone)}, nil
}

func causeAsked(text string) (view.Cause, error) {
	if text == "" {
		return view.Cause{}, nil
	}
	for _, c := range view.Causes() {
		if c.String() == text {
			return c, nil
		}
	}
	return view.Cause{}, fault.Field("cause", "compliancepage.no-grouping")
}

// charts are the charts of the page, in its order.
func charts(r *http.Request, p *view.Outcomes) error {
	ctx, when := r.Context(), p.When(r.Context())
	groups, err := p.Of.Courses(p.By, outcomes.Placed)
	if err != nil {
		return err
	}
	all, wards := groups, groups
	if p.By != outcomes.ByNothing {
		if all, err = p.Of.Courses(outcomes.ByNothing, outcomes.Placed); err != nil {
			return err
		}
	}
	if p.By != outcomes.ByWard {
		if wards, err = p.Of.Courses(outcomes.ByWard, outcomes.Placed); err != nil {
			return err
		}
	}
	p.LeftOut = groups.LeftOut
	p.Figures = append(p.Figures, view.SurvivalFigure(ctx, groups, when))
	if len(all.Groups) > 0 {
		ends := view.CausesFigure(ctx, &all.Groups[0], when)
		if p.By != outcomes.ByNothing {
			ends.Reading = append(ends.Reading, groups.ReadCause(p.Cause.Label(ctx), p.Cause.Reasons()...)...)
		}
		p.Figures = append(p.Figures, ends)
	}
	p.Figures = append(p.Figures, view.RatesFigure(ctx, wards, p.Cause, when), view.FunnelFigure(ctx, wards, p.Cause, when))
	for _, event := range outcomes.Events() {
		p.Figures = append(p.Figures, view.WatchFigure(ctx, p.Of.Watch(event), p.Of.House.Zone, when))
	}
	return nil
}

func (s *Server) showOutcomes(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	page, wrong := s.outcomesAsked(r, q)
	form, status, err := asked(r, "/outcomes", wrong)
	if err != nil {
		return err
	}
	if wrong != nil { // what was asked cannot be answered: the usual period
		q = url.Values{}
		if page, err = s.outcomesAsked(r, q); err != nil {
			return err
		}
	}
	if err := charts(r, &page); err != nil {
		return err
	}
	for i := range page.Figures {
		f := &page.Figures[i]
		for _, kind := range []string{"svg", "png", "csv"} {
			if kind == "csv" || f.Chart != nil {
				f.Links = append(f.Links, view.NavItem{Label: say(r, "outcomespage.as-"+kind), Href: "/outcomes/" + f.Name + "." + kind + "?" + q.Encode()})
			}
		}
	}
	if page.Ended, page.EndedOf, err = s.desk.Ended(r.Context(), page.Of, page.Cause.Reasons(), endedShown); err != nil {
		return err
	}
	if q.Get("like-for-like") != "" {
		by := []outcomes.By{outcomes.BySite, outcomes.ByGauge, outcomes.ByAsepsis, outcomes.BySide}
		if page.By == outcomes.ByWard || page.By == outcomes.ByOperatorRole {
			by = append([]outcomes.By{page.By}, by...)
		}
		found, err := page.Of.Adjusted(by...)
		page.Adjusted = &view.AdjustedView{Found: found, Err: err}
	}
	page.Shell, page.Query, page.Form = s.shell(r, say(r, "outcomespage.title")), q, form
	page.Presets = s.outcomesPresets(r, page.Of.House)
	return s.show(w, r, status, view.OutcomesPage(page))
}

// outcomesPresets are periods often asked for, for the same groups and cause.
func (s *Server) outcomesPresets(r *http.Request, h *desk.House) []view.NavItem {
	y, m, d := s.desk.Now().Time().In(h.Zone).Date()
	var all []view.NavItem
	for _, one := range []struct {
		key  string
		back time.Time
	}{
		{"last-90", time.Date(y, m, d-89, 0, 0, 0, 0, time.UTC)}, {"last-year", time.Date(y, m, d+1-usualYear, 0, 0, 0, 0, time.UTC)},
		{"last-3-years", time.Date(y-3, m, d+1, 0, 0, 0, 0, time.UTC)},
	} {
		q := url.Values{"from": {one.back.Format(time.DateOnly)}, "to": {time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)}}
		for _, keep := range []string{"by", "cause"} {
			if v := r.URL.Query().Get(keep); v != "" {
				q.Set(keep, v)
			}
		}
		all = append(all, view.NavItem{Label: say(r, "outcomespage."+one.key), Href: "/outcomes?" + q.Encode()})
	}
	return all
}

// downloadChart sends one chart of the page as a file.
func (s *Server) downloadChart(w http.ResponseWriter, r *http.Request) error {
	page, err := s.outcomesAsked(r, r.URL.Query())
	if err != nil {
		return err
	}
	if err := charts(r, &page); err != nil {
		return err
	}
	for _, f := range page.Figures {
		if f.Name == chi.URLParam(r, "chart") {
			return sendChart(w, r, f, chi.URLParam(r, "kind"))
		}
	}
	return fault.New(fault.NotFound, "fault.no-such-page")
}

func sendChart(w http.ResponseWriter, r *http.Request, f view.ChartFigure, kind string) error {
	if kind == "csv" {
		return sendTable(w, r, f.Name, f.Numbers.Sheet())
	}
	if f.Chart == nil {
		return fault.New(fault.NotFound, "outcomespage.no-chart")
	}
	drawing := f.Chart.Draw(chart.Wide)
	write, of := drawing.WriteSVG, "image/svg+xml"
	switch kind {
	case "svg":
	case "png":
		write, of = drawing.WritePNG, "image/png"
	default:
		return fault.New(fault.NotFound, "fault.no-such-page")
	}
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	w.Header().Set("Content-Disposition", `attachment; filename="`+f.Name+"."+kind+`"`)
	return send(w, r, http.StatusOK, of, b.Bytes())
}
