package web

import (
	"net/http"
	"slices"
	"time"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/view"
)

// auditAsked answers what the address asks.
func (s *Server) auditAsked(r *http.Request, h *desk.House) (report *desk.Report, at line.Minute, known desk.Known, err error) {
	q := r.URL.Query()
	if at, known, err = s.momentsAsked(q, h.Zone); err != nil {
		return nil, at, known, err
	}
	report, err = s.desk.Audit(r.Context(), personOf(r), desk.Question{
		At: at, Known: known, Ward: line.ID(q.Get("ward")), Rule: line.Rule(q.Get("rule")),
	})
	return report, at, known, err
}

func (s *Server) showAudit(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	r, slid := s.slid(r, h.Zone)
	report, at, known, wrong := s.auditAsked(r, h)
	form, status, err := asked(r, "/audit", wrong)
	if err != nil {
		return err
	}
	if wrong != nil { // what was asked cannot be answered: as it stands now
		if report, err = s.desk.Audit(r.Context(), personOf(r), desk.Question{}); err != nil {
			return err
		}
		at, known = 0, desk.Known{}
	}
	q := r.URL.Query()
	page := view.Audit{
		Shell: s.shell(r, say(r, "auditpage.title")), Report: report, House: h, Ward: q.Get("ward"), Rule: q.Get("rule"),
		Advice: q.Has("advice") || q.Get("rule") != "", Query: r.URL.RawQuery, Asked: at, KnownAsked: !known.At.IsZero(),
		Moment: view.NewMoment(form, at, s.desk.Now(), h.Zone), Presets: s.auditPresets(r, h),
	}
	page.Moment.Slid = slid
	return s.show(w, r, status, view.AuditPage(page))
}

// auditPresets are moments that are often asked about, for the same ward and rule.
func (s *Server) auditPresets(r *http.Request, h *desk.House) []view.NavItem {
	now := s.desk.Now()
	to := func(at line.Minute) string {
		q := r.URL.Query()
		setMoment(q, at, at == now, h.Zone)
		return "/audit?" + q.Encode()
	}
	today := now.Time().In(h.Zone)
	night := line.MinuteOf(time.Date(today.Year(), today.Month(), today.Day(), 3, 0, 0, 0, h.Zone))
	if night > now {
		night = line.MinuteOf(time.Date(today.Year(), today.Month(), today.Day()-1, 3, 0, 0, 0, h.Zone))
	}
	presets := []view.NavItem{{Label: say(r, "auditpage.preset-now"), Href: to(now)}, {Label: say(r, "auditpage.preset-night"), Href: to(night)}}
	for _, start := range shiftStarts(h, line.ID(r.URL.Query().Get("ward")), now) {
		presets = append(presets, view.NavItem{Label: say(r, "auditpage.preset-shift", "at", words.To(r.Context()).In(h.Zone).At(start, words.Clock)), Href: to(start)})
	}
	return presets
}

// shiftStarts are the moments at which the shifts of the open wards, or of one
// ward, began.
func shiftStarts(h *desk.House, ward line.ID, now line.Minute) []line.Minute {
	var starts []line.Minute
	for _, w := range h.Wards {
		if !w.Closed && (ward == "" || w.Ward.Ward == ward) {
			starts = append(starts, h.Rulebook.ShiftAt(w.Key, now).From)
		}
	}
	slices.Sort(starts)
	return slices.Compact(starts)
}

// downloadAudit is the same list as a table for a spreadsheet.
func (s *Server) downloadAudit(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	r, _ = s.slid(r, h.Zone)
	report, _, _, err := s.auditAsked(r, h)
	if err != nil {
		return err
	}
	rows := [][]string{{"severity", "ward", "bed", "patient", "site", "side", "gauge", "rule", "since", "overdue_minutes", "is_it_still_in", "why"}}
	for _, i := range desk.InOrder(report.Items, report.StillIn) {
		still := "no"
		if i.StillIn {
			still = "yes"
		}
		rows = append(rows, []string{
			i.Severity.String(), i.Ward.Name, i.Patient.Bed, i.Patient.Reference, i.Line.Site.String(), i.Line.Side.String(),
			i.Line.Gauge.String(), string(i.Rule), i.Since.String(), view.OverdueMinutes(i), still, words.Tell(r.Context(), i.Why),
		})
	}
	return sendTable(w, r, "audit-"+report.At.Time().Format("2006-01-02-1504"), rows)
}
