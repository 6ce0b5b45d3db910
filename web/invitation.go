package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// invitationsPage shows one-time links to be handed out. They are nowhere else:
// the record keeps only what tells a right one from a wrong one.
func (s *Server) invitationsPage(w http.ResponseWriter, r *http.Request, invitations []account.Invitation) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	origin, only := s.origin(r)
	page := view.Invitations{Shell: s.shell(r, say(r, "invitation.title"))}
	if only {
		page.Only = origin
	}
	for _, i := range invitations {
		slip := view.Slip{Account: h.People[line.ID(i.Account)], Until: line.MinuteOf(i.Until), Address: origin + view.InvitationPath + i.Account + "/" + i.Token}
		if slip.QR, err = view.NewQR(slip.Address); err != nil {
			return fault.Wrap(err, fault.Invalid, "label.address")
		}
		page.Slips = append(page.Slips, slip)
	}
	return s.show(w, r, http.StatusOK, view.InvitationsPage(page))
}

func (s *Server) invite(w http.ResponseWriter, r *http.Request) error {
	invitation, err := s.desk.Invite(r.Context(), personOf(r), line.ID(chi.URLParam(r, "account")))
	if err != nil {
		return err
	}
	return s.invitationsPage(w, r, []account.Invitation{invitation})
}

func (s *Server) showInvitation(w http.ResponseWriter, r *http.Request) error {
	p, err := s.desk.Invited(r.Context(), line.ID(chi.URLParam(r, "account")), chi.URLParam(r, "token"))
	if err != nil {
		return err
	}
	return s.invitationPage(w, r, http.StatusOK, view.Form{Action: r.URL.Path}, p.Account)
}

func (s *Server) invitationPage(w http.ResponseWriter, r *http.Request, status int, form view.Form, a account.Account) error {
	return s.show(w, r, status, view.InvitationPage(view.Invitation{
		Shell: s.shell(r, say(r, "invitation.welcome", "name", a.Name)), Form: form, Account: a,
	}))
}

func (s *Server) acceptInvitation(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	id, token := line.ID(chi.URLParam(r, "account")), chi.URLParam(r, "token")
	p, err := s.desk.Invited(r.Context(), id, token)
	if err != nil {
		return err
	}
	if form.Get("passphrase") != form.Get("again") {
		err = fault.Field("again", "invitation.not-alike")
	} else {
		p, err = s.desk.AcceptInvitation(r.Context(), id, token, form.Get("passphrase"))
	}
	s.event(r, "accept an invitation", account.ID(id), err)
	if err != nil {
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		form.Values = nil
		return s.invitationPage(w, r, http.StatusUnprocessableEntity, form, p.Account)
	}
	return s.letIn(w, r, p, stateWhole, "/")
}
