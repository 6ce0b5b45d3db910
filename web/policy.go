package web

import (
	"net/http"
	"strconv"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/web/view"
)

func (s *Server) showPolicy(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	now := s.desk.Now()
	page := view.Policy{
		Shell: s.shell(r, say(r, "policypage.title")), House: h, Version: h.InForce(now), Notice: s.takeNotice(r),
		MayEdit: personOf(r).May(account.EditPolicy),
	}
	for _, v := range h.Policies {
		if v.From > now {
			page.Later = append(page.Later, v)
		}
	}
	if page.MayEdit {
		inHand, err := s.desk.PolicyEdit(r.Context(), personOf(r))
		if err != nil {
			return err
		}
		page.InHand = inHand != nil
	}
	return s.show(w, r, http.StatusOK, view.PolicyPage(page))
}

// showPolicies lists the policies of all time, and compares two of them where
// the address names them.
func (s *Server) showPolicies(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	page := view.PolicyHistory{Shell: s.shell(r, say(r, "policyhistory.title")), House: h, Now: s.desk.Now(), Versions: h.Versions()}
	if q := r.URL.Query(); q.Has("before") || q.Has("after") {
		before, err := versionOf(h, q.Get("before"))
		if err != nil {
			return err
		}
		after, err := versionOf(h, q.Get("after"))
		if err != nil {
			return err
		}
		page.Before, page.After = &before, &after
	}
	return s.show(w, r, http.StatusOK, view.PolicyHistoryPage(page))
}

func (s *Server) showPolicyVersion(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	v, err := versionOf(h, chi.URLParam(r, "version"))
	if err != nil {
		return err
	}
	return s.show(w, r, http.StatusOK, view.PolicyVersionPage(view.PolicyVersion{
		Shell: s.shell(r, v.Policy.Name()), House: h, Version: v, Now: s.desk.Now(), MayEdit: personOf(r).May(account.EditPolicy),
	}))
}

func versionOf(h *desk.House, number string) (desk.PolicyVersion, error) {
	seq, err := strconv.ParseInt(number, 10, 64)
	v, ok := h.Version(seq)
	if err != nil || !ok {
		return v, fault.New(fault.NotFound, "policyhistory.no-such")
	}
	return v, nil
}
