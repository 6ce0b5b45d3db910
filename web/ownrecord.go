package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/web/view"
)

// looksShown is how many looks at a shared record are listed.
const looksShown = 20

func (s *Server) showOwnRecord(w http.ResponseWriter, r *http.Request) error {
	form := view.Form{Action: "/my-record/shares", Values: url.Values{"share": {string(desk.NewID())}}}
	return s.ownRecordPage(w, r, http.StatusOK, form)
}

func (s *Server) ownRecordPage(w http.ResponseWriter, r *http.Request, status int, form view.Form) error {
	own, err := s.desk.OwnAttempts(r.Context(), personOf(r))
	if err != nil {
		return err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	page, status, err := s.progressPage(r, outcomes.Of(own.Counted, own.Stopped), status)
	if err != nil {
		return err
	}
	page.Shell, page.Waiting, page.House, page.Notice = s.shell(r, say(r, "ownrecord.title")), own.Waiting, h, s.takeNotice(r)
	if page.Sharing, err = s.sharing(r, h, form); err != nil {
		return err
	}
	for _, l := range h.Links {
		if l.Account == line.ID(personOf(r).ID) && l.Accepted == 0 {
			page.Offers = append(page.Offers, l.Written)
		}
	}
	return s.show(w, r, status, view.OwnRecordPage(page))
}

// sharing is who may read copies of the person's record, and whose the person may read.
func (s *Server) sharing(r *http.Request, h *desk.House, form view.Form) (view.Sharing, error) {
	sharing := view.Sharing{Form: form, House: h}
	var err error
	if sharing.Given, err = s.desk.SharesGiven(r.Context(), personOf(r)); err != nil {
		return sharing, err
	}
	if sharing.Received, err = s.desk.SharesReceived(r.Context(), personOf(r)); err != nil {
		return sharing, err
	}
	if sharing.Looks, err = s.desk.LooksAtOwnRecord(r.Context(), personOf(r), looksShown); err != nil {
		return sharing, err
	}
	for _, p := range h.People {
		if p.ID != personOf(r).ID && p.May(account.SeeOwnRecord) {
			sharing.Readers = append(sharing.Readers, p)
		}
	}
	slices.SortFunc(sharing.Readers, func(a, b account.Account) int { return strings.Compare(a.Name+a.ID, b.Name+b.ID) })
	return sharing, nil
}

func (s *Server) answerLink(w http.ResponseWriter, r *http.Request) error {
	form, answer, err := s.ownAnswer(r)
	if err != nil || answer == 0 {
		return orOwnRecord(w, r, err)
	}
	if err := s.desk.AnswerLink(r.Context(), personOf(r), form.Get("written"), answer); err != nil {
		return err
	}
	s.notice(r, "ownrecord.answered")
	return see(w, r, "/my-record")
}

// answerAttempts takes the person's answer to attempts that somebody else recorded.
func (s *Server) answerAttempts(w http.ResponseWriter, r *http.Request) error {
	form, answer, err := s.ownAnswer(r)
	if err != nil || answer == 0 {
		return orOwnRecord(w, r, err)
	}
	var versions []line.ID
	for _, v := range form.Values["version"] {
		versions = append(versions, line.ID(v))
	}
	if err := s.desk.AnswerAttempts(r.Context(), personOf(r), versions, answer); err != nil {
		return err
	}
	s.notice(r, "ownrecord.answered")
	return see(w, r, "/my-record")
}

// ownAnswer reads the form of a yes or no; 0 where neither was said.
func (s *Server) ownAnswer(r *http.Request) (form view.Form, answer line.Answer, err error) {
	if form, err = formOf(r, r.URL.Path); err != nil {
		return form, 0, err
	}
	if answer.Parse(form.Get("answer")) != nil {
		answer = 0
	}
	return form, answer, nil
}

// orOwnRecord goes back to the record where nothing went wrong.
func orOwnRecord(w http.ResponseWriter, r *http.Request, err error) error {
	if err != nil {
		return err
	}
	return see(w, r, "/my-record")
}

func (s *Server) shareRecord(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	share, err := line.ParseID(form.Get("share"))
	if err != nil {
		return fault.Wrap(err, fault.Invalid, "fault.fields")
	}
	if err := s.desk.ShareRecord(r.Context(), personOf(r), share, line.ID(form.Get("with"))); err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		return s.ownRecordPage(w, r, http.StatusUnprocessableEntity, form)
	}
	s.notice(r, "ownrecord.shared")
	return see(w, r, "/my-record")
}

func (s *Server) takeBackShare(w http.ResponseWriter, r *http.Request) error {
	if err := s.desk.TakeBackShare(r.Context(), personOf(r), line.ID(chi.URLParam(r, "share"))); err != nil {
		return err
	}
	s.notice(r, "ownrecord.taken-back")
	return see(w, r, "/my-record")
}

// showShare shows a copy of somebody's record to whom it was shared with.
func (s *Server) showShare(w http.ResponseWriter, r *http.Request) error {
	shared, err := s.desk.OpenShare(r.Context(), personOf(r), line.ID(chi.URLParam(r, "share")))
	if err != nil {
		return err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	page, status, err := s.progressPage(r, outcomes.Of(shared.Tried, shared.Stopped), http.StatusOK)
	if err != nil {
		return err
	}
	page.Shell, page.House = s.shell(r, say(r, "ownrecord.shared-title", "name", h.NameOf(shared.Account))), h
	return s.show(w, r, status, view.SharedRecordPage(view.SharedRecord{
		OwnRecord: page, SharedRecord: shared.SharedRecord, Own: string(shared.Account) == personOf(r).ID,
	}))
}

// progressPage is a record with what it tells of learning, as the address asks.
func (s *Server) progressPage(r *http.Request, record *outcomes.Record, status int) (view.OwnRecord, int, error) {
	unit, by, wrong := progressAsked(r.URL.Query())
	form, refused, err := asked(r, r.URL.Path, wrong)
	if err != nil {
		return view.OwnRecord{}, status, err
	}
	if status == http.StatusOK {
		status = refused
	}
	page := view.OwnRecord{Record: record, By: by, Asked: form, Path: r.URL.Path, At: s.desk.Now()}
	page.Progress, err = s.desk.Progress(r.Context(), record, unit)
	return page, status, err
}

// progressAsked reads what counts as a trial and what success is parted by.
func progressAsked(q url.Values) (outcomes.Unit, outcomes.By, error) {
	unit, err := outcomes.ParseUnit(q.Get("unit"))
	if err != nil {
		return 0, outcomes.BySite, fault.Field("unit", "compliancepage.no-grouping")
	}
	for _, by := range outcomes.AttemptBys() {
		if by.String() == q.Get("by") {
			return unit, by, nil
		}
	}
	if q.Get("by") != "" {
		return unit, outcomes.BySite, fault.Field("by", "compliancepage.no-grouping")
	}
	return unit, outcomes.BySite, nil
}

// portfolio is the person's own record for paper and spreadsheet.
func (s *Server) portfolio(r *http.Request) (view.OwnRecord, error) {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return view.OwnRecord{}, err
	}
	record, err := s.desk.OwnRecord(r.Context(), personOf(r))
	return view.OwnRecord{Shell: s.shell(r, say(r, "learningpage.portfolio-title")), Record: record, House: h, At: s.desk.Now()}, err
}

func (s *Server) showPortfolio(w http.ResponseWriter, r *http.Request) error {
	page, err := s.portfolio(r)
	if err != nil {
		return err
	}
	return s.show(w, r, http.StatusOK, view.PortfolioPage(page))
}

func (s *Server) downloadAttempts(w http.ResponseWriter, r *http.Request) error {
	page, err := s.portfolio(r)
	if err != nil {
		return err
	}
	return sendTable(w, r, "attempts", page.Sheet(r.Context()))
}
