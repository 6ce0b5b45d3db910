package web

import (
	"net/http"
	"net/url"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

func pairOf(before, after *audit.Policy) string { return before.Name() + ", " + after.Name() }

// tried is the edit in hand and the policy in force, where the person has seen
// a trial of the one against the other; else after is nil.
func (s *Server) tried(r *http.Request, h *desk.House) (before, after *audit.Policy, err error) {
	inHand, err := s.policyInHand(r)
	if err != nil || inHand == nil {
		return nil, nil, err
	}
	before = h.InForce(s.desk.Now()).Policy
	if inHand.Against != before.Name() {
		return nil, nil, nil
	}
	return before, inHand.Policy, nil
}

// usualWeeks is how far a trial goes back where nothing is said.
const usualWeeks = 4

func (s *Server) showPolicyTrial(w http.ResponseWriter, r *http.Request) error {
	inHand, err := s.policyInHand(r)
	if err != nil {
		return err
	}
	if inHand == nil {
		return see(w, r, "/policy/edit")
	}
	asked := &reader{form: r.URL.Query(), fields: fault.Fields{}}
	page := view.PolicyTrial{Shell: s.shell(r, say(r, "policytrial.title")), Weeks: usualWeeks, Notice: s.takeNotice(r)}
	if n := asked.number("weeks", 1, desk.MostTrialWeeks); n != nil {
		page.Weeks = *n
	}
	if n := asked.number("nurses", 1, 99); n != nil {
		page.Nurses = *n
	}
	page.Form = view.Form{Values: r.URL.Query()}
	if err := asked.err(); err != nil {
		if err := refuse(r, &page.Form, err); err != nil {
			return err
		}
	}
	if page.Trial, err = s.desk.TryPolicy(r.Context(), personOf(r), desk.TrialQuestion{Policy: inHand.Policy, Weeks: page.Weeks}); err != nil {
		return err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	page.House = h
	if against := page.Trial.Before.Name(); inHand.Against != against {
		if err := s.desk.KeepPolicyEdit(r.Context(), personOf(r), desk.PolicyEdit{Policy: inHand.Policy, Against: against}); err != nil {
			return err
		}
	}
	return s.show(w, r, http.StatusOK, view.PolicyTrialPage(page))
}

func (s *Server) showPolicyConfirm(w http.ResponseWriter, r *http.Request) error {
	return s.policyConfirmPage(w, r, http.StatusOK, view.Form{Values: url.Values{"from": {"now"}}}, 0)
}

// policyConfirmPage asks from when, and, once from is known (-1: now), shows
// what will change and asks whether to go on.
func (s *Server) policyConfirmPage(w http.ResponseWriter, r *http.Request, status int, form view.Form, from line.Minute) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	before, after, err := s.tried(r, h)
	if err != nil {
		return err
	}
	if after == nil {
		return see(w, r, "/policy/edit/trial")
	}
	page := view.PolicyConfirm{
		Shell: s.shell(r, say(r, "policyconfirm.title")), Form: form, House: h, From: from, Person: personOf(r).Name,
		Before: before, After: after, Twice: form.Has("twice", "yes"),
	}
	moment := from
	if from == fromNow {
		moment = s.desk.Now()
	}
	for _, v := range h.Policies {
		if from != 0 && v.From > moment {
			page.Later = append(page.Later, v)
		}
	}
	return s.show(w, r, status, view.PolicyConfirmPage(page))
}

const fromNow = view.FromNow

func (s *Server) takePolicyConfirm(w http.ResponseWriter, r *http.Request) error {
	form, err := formOf(r, r.URL.Path)
	if err != nil {
		return err
	}
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	before, after, err := s.tried(r, h)
	if err != nil {
		return err
	}
	if after == nil {
		return see(w, r, "/policy/edit/trial")
	}
	asked := &reader{form: form.Values, zone: h.Zone, now: s.desk.Now(), fields: fault.Fields{}}
	from := line.Minute(fromNow)
	if form.Get("from") == "typed" {
		from = asked.typed("from")
		if err = asked.err(); err == nil {
			err = s.desk.CheckPolicyFrom(from)
		}
	}
	if err != nil {
		if asked.fields["from"].Key == "act.time-twice" {
			form.Values.Set("twice", "yes")
		}
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		return s.policyConfirmPage(w, r, http.StatusUnprocessableEntity, form, 0)
	}
	if form.Get("sure") != pairOf(before, after) {
		return s.policyConfirmPage(w, r, http.StatusOK, form, from)
	}
	return s.putPolicy(w, r, form, desk.NewPolicy{Policy: after, From: max(from, 0), Against: before.Name()})
}

func (s *Server) putPolicy(w http.ResponseWriter, r *http.Request, form view.Form, p desk.NewPolicy) error {
	if err := s.desk.PutPolicy(r.Context(), personOf(r), p); err != nil {
		if fault.Is(err, fault.Conflict) {
			s.notice(r, "policy.changed-meanwhile")
			return see(w, r, "/policy/edit/trial")
		}
		if err := refuse(r, &form, err); err != nil {
			return err
		}
		return s.policyConfirmPage(w, r, http.StatusUnprocessableEntity, form, 0)
	}
	if err := s.desk.DropPolicyEdit(r.Context(), personOf(r)); err != nil {
		return err
	}
	if p.From == 0 {
		s.notice(r, "policyconfirm.done")
	} else {
		s.notice(r, "policyconfirm.done-later", "name", p.Policy.Name())
	}
	return see(w, r, "/policy")
}
