package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// usualDays is how far back compliance is counted where no day is given.
const usualDays = 28

// day reads a date; the period starts with its first minute in the zone.
func day(q url.Values, field string, usual time.Time) (time.Time, error) {
	text := q.Get(field)
	if text == "" {
		return usual, nil
	}
	t, err := time.Parse(time.DateOnly, text)
	if err != nil || t.Year() < 2000 || t.Year() > 2200 {
		return usual, fault.Field(field, "compliancepage.no-day", "text", text)
	}
	return t, nil
}

// periodAsked reads what the address asks of a period; both days are part of it.
func (s *Server) periodAsked(q url.Values, h *desk.House) (ask desk.PeriodQuestion, err error) {
	if ask.Period, err = s.daysAsked(q, h, usualDays); err != nil {
		return ask, err
	}
	if ask.At, ask.Known, err = s.momentsAsked(q, h.Zone); err != nil {
		return ask, err
	}
	ask.Ward = line.ID(q.Get("ward"))
	if by := q.Get("by"); by != "" {
		if ask.By, err = audit.ParseBy(by); err != nil {
			return ask, fault.Field("by", "compliancepage.no-grouping")
		}
	}
	return ask, nil
}

func (s *Server) showCompliance(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	r, slid := s.slid(r, h.Zone)
	page, wrong := s.complianceAsked(r, h)
	form, status, err := asked(r, "/compliance", wrong)
	if err != nil {
		return err
	}
	if wrong != nil { // what was asked cannot be answered: the usual period
		usual := r.Clone(r.Context())
		usual.URL.RawQuery = ""
		if page, err = s.complianceAsked(usual, h); err != nil {
			return err
		}
	}
	page.Shell, page.Query = s.shell(r, say(r, "compliancepage.title")), r.URL.Query()
	page.Moment = view.NewMoment(form, page.Count.At, s.desk.Now(), h.Zone)
	page.Moment.Slid = slid
	return s.show(w, r, status, view.CompliancePage(page))
}

// complianceAsked answers what the address asks: the groups and, below them,
// the lines of one group or the longest stretches of all.
func (s *Server) complianceAsked(r *http.Request, h *desk.House) (page view.Compliance, err error) {
	q := r.URL.Query()
	ask, err := s.periodAsked(q, h)
	if err != nil {
		return page, err
	}
	page = view.Compliance{House: h, Rule: ruleShown(q), Presets: s.compliancePresets(r, h)}
	if page.Count, err = s.desk.Detailed(r.Context(), personOf(r), ask, page.Rule, q.Get("group")); err != nil {
		return page, err
	}
	for _, g := range page.Groups() {
		if name := page.Count.NameOf(r.Context(), g.Rule, g.Slot); name.ID == q.Get("group") {
			page.Group = name.Name
		}
	}
	return page, nil
}

// compliancePresets are periods often asked for, for the same ward and grouping.
func (s *Server) compliancePresets(r *http.Request, h *desk.House) []view.NavItem {
	y, m, d := s.desk.Now().Time().In(h.Zone).Date()
	day := func(m time.Month, d int) string {
		return time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Format(time.DateOnly)
	}
	var all []view.NavItem
	for _, one := range []struct{ key, from, to string }{
		{"last-7", day(m, d-6), day(m, d)}, {"last-28", day(m, d+1-usualDays), day(m, d)},
		{"this-month", day(m, 1), day(m, d)}, {"last-month", day(m-1, 1), day(m, 0)},
	} {
		q := url.Values{"from": {one.from}, "to": {one.to}}
		for _, keep := range []string{"ward", "by", "rule"} {
			if v := r.URL.Query().Get(keep); v != "" {
				q.Set(keep, v)
			}
		}
		all = append(all, view.NavItem{Label: say(r, "compliancepage."+one.key), Href: "/compliance?" + q.Encode()})
	}
	return all
}

// ruleShown is the one rule shown where groups are of anything but rules.
func ruleShown(q url.Values) line.Rule {
	if by := q.Get("by"); by == "" || by == audit.ByRule.String() {
		return ""
	}
	if rule := line.Rule(q.Get("rule")); rule != "" {
		return rule
	}
	return audit.ReviewOverdue
}

func (s *Server) downloadCompliance(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	r, _ = s.slid(r, h.Zone)
	ask, err := s.periodAsked(r.URL.Query(), h)
	if err != nil {
		return err
	}
	c, err := s.desk.Compliance(r.Context(), personOf(r), ask)
	if err != nil {
		return err
	}
	rows := [][]string{{
		"group", "rule", "lines", "due", "met_in_time", "met_late", "missed", "open", "accepted", "not_seen", "proportion", "lower", "upper",
		"cluster_lower", "cluster_upper", "hours_overdue", "hours_unaccounted", "late_median_minutes", "late_p90_minutes", "late_unfinished",
	}}
	for by := audit.ByReview; by <= audit.BySiteCheck; by++ {
		rows[0] = append(rows[0], "met_by_"+strings.ReplaceAll(by.String(), "-", "_"))
	}
	rows[0] = append(rows[0], "from", "to", "at", "known_seq")
	rule := ruleShown(r.URL.Query())
	for i := range c.Groups {
		if g := &c.Groups[i]; rule == "" || g.Rule == rule {
			row := complianceRow(c.NameOf(r.Context(), g.Rule, g.Slot).Name, g)
			rows = append(rows, append(row, c.Period.From.String(), c.Period.Until.String(), c.At.String(), strconv.FormatInt(c.Known.Seq, 10)))
		}
	}
	return sendTable(w, r, "compliance-"+ask.Period.From.Time().In(h.Zone).Format(time.DateOnly), rows)
}

// complianceRow is a group for a spreadsheet; what there is none of is empty.
func complianceRow(name string, g *desk.Group) []string {
	number := func(x float64, ok bool) string {
		if !ok {
			return ""
		}
		return fmt.Sprintf("%.4g", x)
	}
	share, ended := g.Proportion()
	median, late := g.LateAt(0.5)
	most, _ := g.LateAt(0.9)
	row := []string{name, string(g.Rule)}
	for _, n := range []int{g.Count.Lines, g.Due(), g.MetInTime, g.MetLate, g.Missed, g.Open, g.Accepted, g.NotSeen} {
		row = append(row, strconv.Itoa(n))
	}
	row = append(row, number(share, ended), number(g.Lower, ended), number(g.Upper, ended), number(g.ByLine.Lower, ended), number(g.ByLine.Upper, ended),
		fmt.Sprintf("%.2f", g.Overdue.Hours()), fmt.Sprintf("%.2f", g.Unaccounted.Hours()), number(median, late), number(most, late), strconv.Itoa(g.Unfinished))
	for by := audit.ByReview; by <= audit.BySiteCheck; by++ {
		row = append(row, strconv.Itoa(g.MetBy[by]))
	}
	return row
}

func (s *Server) showWalkRound(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	r, slid := s.slid(r, h.Zone)
	at, known, wrong := s.momentsAsked(r.URL.Query(), h.Zone)
	form, status, err := asked(r, "/walk-round", wrong)
	if err != nil {
		return err
	}
	if wrong != nil {
		at, known = 0, desk.Known{}
	}
	found, err := s.desk.WalkRound(r.Context(), personOf(r), at, known)
	if err != nil {
		return err
	}
	page := view.WalkRound{
		Shell: s.shell(r, say(r, "walkround.title")), Found: found, Moment: view.NewMoment(form, at, s.desk.Now(), h.Zone), KnownAsked: !known.At.IsZero(),
	}
	page.Moment.Slid = slid
	return s.show(w, r, status, view.WalkRoundPage(page))
}
