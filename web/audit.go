package web

import (
	"bytes"
	"encoding/csv"
	"net/http"
	"strings"
	"time"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/view"
)

func (s *Server) report(r *http.Request) (*desk.Report, error) {
	q := r.URL.Query()
	return s.desk.Audit(r.Context(), personOf(r), desk.Question{Ward: line.ID(q.Get("ward")), Rule: line.Rule(q.Get("rule"))})
}

func (s *Server) showAudit(w http.ResponseWriter, r *http.Request) error {
	report, err := s.report(r)
	if err != nil {
		return err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	q := r.URL.Query()
	return s.show(w, r, http.StatusOK, view.AuditPage(view.Audit{
		Shell: s.shell(r, say(r, "auditpage.title")), Report: report, House: h, Ward: q.Get("ward"), Rule: q.Get("rule"),
		Advice: q.Has("advice") || q.Get("rule") != "", Query: r.URL.RawQuery,
	}))
}

// downloadAudit is the same list as a table for a spreadsheet.
func (s *Server) downloadAudit(w http.ResponseWriter, r *http.Request) error {
	report, err := s.report(r)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	out := csv.NewWriter(&b)
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
	for _, row := range rows {
		for i := range row {
			row[i] = inert(row[i])
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	w.Header().Set("Content-Disposition", `attachment; filename="audit-`+time.Unix(int64(report.At)*60, 0).UTC().Format("2006-01-02-1504")+`.csv"`)
	return send(w, r, http.StatusOK, "text/csv; charset=utf-8", b.Bytes())
}

// inert keeps a spreadsheet from reading a cell as a formula.
func inert(cell string) string {
	if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
		return "'" + cell
	}
	return cell
}

func (s *Server) showPolicy(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	page := view.Policy{Shell: s.shell(r, say(r, "policypage.title")), Policy: h.Rulebook.PolicyAt(s.desk.Now())}
	for _, v := range h.Policies {
		if v.From <= s.desk.Now() {
			page.Since = v.From
		}
	}
	return s.show(w, r, http.StatusOK, view.PolicyPage(page))
}

func (s *Server) showOwnRecord(w http.ResponseWriter, r *http.Request) error {
	record, err := s.desk.OwnRecord(r.Context(), personOf(r))
	if err != nil {
		return err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	page := view.OwnRecord{Shell: s.shell(r, say(r, "ownrecord.title")), Record: record, Notice: s.takeNotice(r)}
	for _, l := range h.Links {
		if l.Account == line.ID(personOf(r).ID) && l.Accepted == 0 {
			page.Offers = append(page.Offers, l.Written)
		}
	}
	return s.show(w, r, http.StatusOK, view.OwnRecordPage(page))
}

func (s *Server) answerLink(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	var answer line.Answer
	if err := answer.Parse(form.Get("answer")); err != nil || answer == 0 {
		return see(w, r, "/my-record")
	}
	if err := s.desk.AnswerLink(r.Context(), personOf(r), form.Get("written"), answer); err != nil {
		return err
	}
	s.notice(r, "ownrecord.answered")
	return see(w, r, "/my-record")
}
