package web

import (
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

func (s *Server) showPeople(w http.ResponseWriter, r *http.Request) error {
	form := view.Form{Action: "/people", Values: url.Values{"account": {string(desk.NewID())}}}
	return s.peoplePage(w, r, http.StatusOK, form, view.Form{Action: "/people-links"})
}

func (s *Server) peoplePage(w http.ResponseWriter, r *http.Request, status int, form, link view.Form) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	backups, err := s.desk.Backups(personOf(r))
	if err != nil {
		return err
	}
	page := view.People{Shell: s.shell(r, say(r, "people.title")), Form: form, Link: link, House: h, Notice: s.takeNotice(r), Backups: backups.Trouble(s.clock())}
	if page.StepRule, err = s.desk.StepRule(r.Context()); err != nil {
		return err
	}
	for _, p := range h.People {
		page.Accounts = append(page.Accounts, p)
	}
	slices.SortFunc(page.Accounts, func(a, b account.Account) int { return strings.Compare(a.Name+a.ID, b.Name+b.ID) })
	return s.show(w, r, status, view.PeoplePage(page))
}

func (s *Server) openAccount(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/people")
	if err != nil {
		return err
	}
	id, err := line.ParseID(form.Get("account"))
	if err != nil {
		return fault.Wrap(err, fault.Invalid, "fault.fields")
	}
	_, err = s.desk.OpenAccount(r.Context(), personOf(r), desk.NewAccount{
		ID: id, SignIn: form.Get("sign_in"), Name: form.Get("name"), Initials: form.Get("initials"),
		Role: account.Role(form.Get("role")), Passphrase: form.Get("passphrase"),
	})
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		form.Values.Del("passphrase")
		return s.peoplePage(w, r, http.StatusUnprocessableEntity, form, view.Form{Action: "/people-links"})
	}
	s.notice(r, "people.opened", "name", form.Get("name"))
	return see(w, r, "/people")
}

func (s *Server) account(r *http.Request) (account.Account, error) {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return account.Account{}, err
	}
	a, ok := h.People[line.ID(chi.URLParam(r, "account"))]
	if !ok {
		return a, fault.New(fault.NotFound, "fault.no-such-page")
	}
	return a, nil
}

func (s *Server) showAccount(w http.ResponseWriter, r *http.Request) error {
	a, err := s.account(r)
	if err != nil {
		return err
	}
	values := url.Values{"name": {a.Name}, "initials": {a.Initials}, "role": {string(a.Role)}}
	if a.Closed {
		values.Set("closed", "yes")
	}
	return s.accountPage(w, r, http.StatusOK, a, view.Form{Action: r.URL.Path, Values: values})
}

func (s *Server) accountPage(w http.ResponseWriter, r *http.Request, status int, a account.Account, form view.Form) error {
	return s.show(w, r, status, view.AccountPage(view.AccountForm{Shell: s.shell(r, say(r, "people.account")), Form: form, Account: a}))
}

func (s *Server) changeAccount(w http.ResponseWriter, r *http.Request) error {
	a, err := s.account(r)
	if err != nil {
		return err
	}
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	a.Name, a.Initials = strings.TrimSpace(form.Get("name")), strings.TrimSpace(form.Get("initials"))
	a.Role, a.Closed = account.Role(form.Get("role")), form.Get("closed") != ""
	if err := s.desk.ChangeAccount(r.Context(), personOf(r), a); err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		return s.accountPage(w, r, http.StatusUnprocessableEntity, a, form)
	}
	s.notice(r, "people.changed", "name", a.Name)
	return see(w, r, "/people")
}

func (s *Server) resetPassphrase(w http.ResponseWriter, r *http.Request) error {
	a, err := s.account(r)
	if err != nil {
		return err
	}
	form, err := formOf(r, "/people/"+a.ID)
	if err != nil {
		return err
	}
	err = s.desk.SetPassphrase(r.Context(), personOf(r), line.ID(a.ID), form.Get("passphrase"))
	s.event(r, "give a passphrase", a.ID, err)
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		form.Values = url.Values{"name": {a.Name}, "initials": {a.Initials}, "role": {string(a.Role)}}
		return s.accountPage(w, r, http.StatusUnprocessableEntity, a, form)
	}
	s.notice(r, "people.changed", "name", a.Name)
	return see(w, r, "/people")
}

func (s *Server) endSessionsOf(w http.ResponseWriter, r *http.Request) error {
	a, err := s.account(r)
	if err != nil {
		return err
	}
	if err := s.desk.EndSessions(r.Context(), personOf(r), line.ID(a.ID)); err != nil {
		return err
	}
	s.notice(r, "people.sessions-ended", "name", a.Name)
	return see(w, r, "/people")
}

func (s *Server) offerLink(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/people-links")
	if err != nil {
		return err
	}
	if err := s.desk.OfferLink(r.Context(), personOf(r), form.Get("written"), line.ID(form.Get("account"))); err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		fresh := view.Form{Action: "/people", Values: url.Values{"account": {string(desk.NewID())}}}
		return s.peoplePage(w, r, http.StatusUnprocessableEntity, fresh, form)
	}
	s.notice(r, "people.offered", "written", form.Get("written"))
	return see(w, r, "/people")
}

func (s *Server) showWardValues(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	form := view.Form{Action: "/ward-values", Values: url.Values{"ward": {string(desk.NewID())}, "zone": {h.Zone.String()}}}
	return s.wardValuesPage(w, r, http.StatusOK, form, hospitalForm(h.Hospital))
}

func hospitalForm(h line.Hospital) view.Form {
	return view.Form{Action: "/hospital", Values: url.Values{
		"hospital": {h.Name}, "zone": {h.Zone}, "reference_pattern": {h.Reference}, "reference_example": {h.Example}, "language": {h.Language},
	}}
}

func (s *Server) wardValuesPage(w http.ResponseWriter, r *http.Request, status int, form, hospital view.Form) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	return s.show(w, r, status, view.WardValuesPage(view.WardValues{
		Shell: s.shell(r, say(r, "nav.ward-values")), Form: form, Hospital: hospital, House: h, Languages: s.words, Notice: s.takeNotice(r),
	}))
}

// wardOf reads a ward's values.
func wardOf(form view.Form, id line.ID) (line.Ward, error) {
	w := line.Ward{Ward: id, Name: strings.TrimSpace(form.Get("name")), Zone: strings.TrimSpace(form.Get("zone")), Closed: form.Get("closed") != ""}
	var err error
	if w.Shifts, err = shiftsOf(form.Get("shifts")); err != nil {
		return w, err
	}
	if every := strings.TrimSpace(form.Get("every")); every != "" {
		n, err := strconv.ParseFloat(every, 64)
		if err != nil || !(n >= 0 && n <= 24) {
			return w, fault.Field("every", "desk.every-form")
		}
		w.Every = int(math.Round(n * 60))
	}
	for _, bed := range strings.Split(form.Get("beds"), "\n") {
		if bed = strings.TrimSpace(bed); bed != "" {
			w.Beds = append(w.Beds, bed)
		}
	}
	return w, nil
}

func (s *Server) addWard(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/ward-values")
	if err != nil {
		return err
	}
	id, err := line.ParseID(form.Get("ward"))
	if err != nil {
		return fault.Wrap(err, fault.Invalid, "fault.fields")
	}
	ward, err := wardOf(form, id)
	if err == nil {
		err = s.desk.SetWard(r.Context(), personOf(r), ward)
	}
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		h, err := s.desk.House(r.Context())
		if err != nil {
			return err
		}
		return s.wardValuesPage(w, r, http.StatusUnprocessableEntity, form, hospitalForm(h.Hospital))
	}
	s.notice(r, "wardvalues.saved", "name", ward.Name)
	return see(w, r, "/ward-values")
}

func (s *Server) showWardForm(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	ward, ok := h.Ward(line.ID(chi.URLParam(r, "ward")))
	if !ok {
		return fault.New(fault.NotFound, "fault.no-such-ward")
	}
	values := url.Values{"name": {ward.Name}, "zone": {ward.Zone}, "beds": {strings.Join(ward.Beds, "\n")}}
	values.Set("shifts", view.ShiftTimes(ward.Shifts))
	if ward.Every > 0 {
		values.Set("every", strconv.FormatFloat(float64(ward.Every)/60, 'f', -1, 64))
	}
	if ward.Closed {
		values.Set("closed", "yes")
	}
	return s.wardFormPage(w, r, http.StatusOK, view.Form{Action: r.URL.Path, Values: values})
}

func (s *Server) wardFormPage(w http.ResponseWriter, r *http.Request, status int, form view.Form) error {
	return s.show(w, r, status, view.WardFormPage(view.WardForm{Shell: s.shell(r, say(r, "wardvalues.ward")), Form: form}))
}

func (s *Server) changeWard(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	before, ok := h.Ward(line.ID(chi.URLParam(r, "ward")))
	if !ok {
		return fault.New(fault.NotFound, "fault.no-such-ward")
	}
	ward, err := wardOf(form, before.Ward.Ward)
	if err == nil {
		err = s.desk.SetWard(r.Context(), personOf(r), ward)
	}
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		return s.wardFormPage(w, r, http.StatusUnprocessableEntity, form)
	}
	s.notice(r, "wardvalues.saved", "name", ward.Name)
	return see(w, r, "/ward-values")
}

func (s *Server) changeHospital(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, "/hospital")
	if err != nil {
		return err
	}
	if err = s.spoken(form); err == nil {
		err = s.desk.SetHospital(r.Context(), personOf(r), hospitalOf(form))
	}
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		fresh := view.Form{Action: "/ward-values", Values: url.Values{"ward": {string(desk.NewID())}}}
		return s.wardValuesPage(w, r, http.StatusUnprocessableEntity, fresh, form)
	}
	s.notice(r, "wardvalues.saved", "name", form.Get("hospital"))
	return see(w, r, "/ward-values")
}
