package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/web/static"
	"dwellbook/web/view"
)

// install lists every route there is. What needs a right stands under it.
func (s *Server) install() chi.Router {
	r := chi.NewRouter()
	r.Use(s.logged, headers, http.NewCrossOriginProtection().Handler)
	if s.secure {
		r.Use(strict)
	}
	r.Handle(static.Prefix+"*", static.Handler())
	r.Get("/healthz", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNoContent) })
	r.Get("/readyz", s.showReady)
	r.With(s.speaking).Group(func(r chi.Router) { // for whoever asks: no session
		r.Post("/deliver", s.do(s.deliver))
		r.Get("/worker.js", s.do(s.serveWorker))
		r.Get("/manifest.webmanifest", s.do(s.showManifest))
		r.Get(offlinePath, s.do(s.showOffline))
	})
	r.Group(func(r chi.Router) {
		r.Use(s.keepSessions, s.identify, s.speaking)
		r.NotFound(s.do(func(http.ResponseWriter, *http.Request) error { return fault.New(fault.NotFound, "fault.no-such-page") }))
		r.Get("/sign-in", s.do(s.showSignIn))
		r.Post("/sign-in", s.do(s.signIn))
		r.Post("/sign-in/pin", s.do(s.signInByPIN))
		r.Get("/sign-in/code", s.do(s.showCode))
		r.Post("/sign-in/code", s.do(s.takeCode))
		r.Get("/set-up/{token}", s.do(s.showSetUp))
		r.Post("/set-up/{token}", s.do(s.setUp))
		r.Get(view.InvitationPath+"{account}/{token}", s.do(s.showInvitation))
		r.Post(view.InvitationPath+"{account}/{token}", s.do(s.acceptInvitation))
		r.Group(func(r chi.Router) {
			r.Use(s.signedIn)
			r.Get("/", s.do(s.showHome))
			r.Post("/sign-out", s.do(s.signOut))
			r.Post("/greeting", s.do(s.readGreeting))
			r.Get("/tray", s.do(s.showTray))
			r.Post("/tray/{draft}/drop", s.do(s.dropDraft))
			r.Get("/passphrase", s.do(s.showPassphrase))
			r.Post("/passphrase", s.do(s.changePassphrase))
			r.Post("/sessions/end", s.do(s.endSessions))
			r.Post("/pin", s.do(s.setPIN))
			r.Get("/second-step", s.do(s.showSecondStep))
			r.Post("/second-step", s.do(s.confirmSecondStep))
			r.Post("/second-step/renew", s.do(s.renewSecondStep))
			r.Get("/language", s.do(s.showLanguage))
			r.Post("/language", s.do(s.changeLanguage))
			r.With(s.right(account.SeePolicy)).Group(func(r chi.Router) {
				r.Get("/policy", s.do(s.showPolicy))
				r.Get("/policy/history", s.do(s.showPolicies))
				r.Get("/policy/history/{version}", s.do(s.showPolicyVersion))
			})
			r.With(s.right(account.EditPolicy)).Group(s.policyRoutes)
			r.With(s.right(account.SeeWards)).Group(s.wardRoutes)
			r.With(s.right(account.RecordCare)).Group(s.careRoutes)
			r.With(s.right(account.RecordCare)).Get("/device-terms", s.do(s.giveTerms))
			r.With(s.right(account.SeeAudit)).Group(func(r chi.Router) {
				r.Get("/audit", s.do(s.showAudit))
				r.With(s.worded).Get("/audit.csv", s.do(s.downloadAudit))
				r.Get("/compliance", s.do(s.showCompliance))
				r.With(s.worded).Get("/compliance.csv", s.do(s.downloadCompliance))
				r.Get("/walk-round", s.do(s.showWalkRound))
				r.Get("/outcomes", s.do(s.showOutcomes))
				r.With(s.worded).Get("/outcomes/{chart}.{kind}", s.do(s.downloadChart))
				r.Get("/calendar", s.do(s.chooseCalendar))
				r.Get("/calendar/{ward}", s.do(s.showCalendar))
				r.Get("/answered", s.do(s.showAnswered))
				r.Get("/access", s.do(s.showAccess))
				r.Post("/access", s.do(s.findAccess))
				r.Get("/report", s.do(s.showReport))
				r.Get("/report/{month}.html", s.do(s.downloadReport))
			})
			r.With(s.right(account.SeeProof)).Group(func(r chi.Router) {
				r.Get("/record", s.do(s.showRecord))
				r.Get("/record/head.txt", s.do(s.downloadHead))
				r.Post("/record/check", s.do(s.checkHead))
			})
			r.With(s.right(account.SeeOwnRecord)).Group(func(r chi.Router) {
				r.Get("/my-record", s.do(s.showOwnRecord))
				r.Get("/my-record/portfolio", s.do(s.showPortfolio))
				r.With(s.worded).Get("/my-record/attempts.csv", s.do(s.downloadAttempts))
				r.Post("/my-record/link", s.do(s.answerLink))
				r.Post("/my-record/attempts", s.do(s.answerAttempts))
				r.Post("/my-record/shares", s.do(s.shareRecord))
				r.Get("/my-record/shares/{share}", s.do(s.showShare))
				r.Post("/my-record/shares/{share}/take-back", s.do(s.takeBackShare))
			})
			r.With(s.right(account.ManagePeople)).Group(s.peopleRoutes)
		})
	})
	return r
}

func (s *Server) wardRoutes(r chi.Router) {
	r.Get("/wards", s.do(s.showWards))
	r.Get("/wards/{ward}", s.do(s.showBoard))
	r.Get("/wards/{ward}/handover", s.do(s.showHandover))
	r.Get("/wards/{ward}/changes", s.do(s.streamChanges))
	r.Get("/patients/{patient}", s.do(s.showPatient))
	r.Get("/lines/{line}", s.do(s.showLine))
	r.Get("/choose-size", s.do(s.showSizes))
	r.Get("/choose-size/answer", s.do(s.answerSizes))
}

func (s *Server) careRoutes(r chi.Router) {
	r.Get("/wards/{ward}/take-along", s.do(s.takeAlong))
	r.Get("/wards/{ward}/admit", s.do(s.showAct(actAdmit)))
	r.Post("/wards/{ward}/admit", s.do(s.takeAct(actAdmit)))
	for _, a := range patientActs {
		r.Get("/patients/{patient}/"+a.path, s.do(s.showAct(a)))
		r.Post("/patients/{patient}/"+a.path, s.do(s.takeAct(a)))
	}
	r.Post("/patients/{patient}/place/advice", s.do(s.advise))
	for _, a := range lineActs {
		r := r
		if a.path == "infection" || a.path == "follow-up" {
			r = r.With(s.right(account.JudgeLines))
		}
		r.Get("/lines/{line}/"+a.path, s.do(s.showAct(a)))
		r.Post("/lines/{line}/"+a.path, s.do(s.takeAct(a)))
	}
	r.Get("/downtime", s.do(s.showDowntime))
	r.Get("/wards/{ward}/round", s.do(s.showRound))
	r.Get("/wards/{ward}/back-entry", s.do(s.showBackEntry))
	r.Post("/wards/{ward}/back-entry", s.do(s.takeBackEntry))
	r.Get("/lines/{line}/look", s.do(s.showLook))
	r.Post("/lines/{line}/look", s.do(s.takeLook))
	r.Post("/entries/{entry}/undo", s.do(s.undo))
	r.Get("/lines/{line}/label", s.do(s.showLabel))
	r.Get(view.LabelPath+"{code}", s.do(s.openLabel))
	r.Get("/scan", s.do(s.showScan))
	r.Get("/entries/{entry}/correct", s.do(s.showCorrection))
	r.Post("/entries/{entry}/correct", s.do(s.takeCorrection))
	r.Get("/entries/{entry}/void", s.do(s.showVoid))
	r.Post("/entries/{entry}/void", s.do(s.takeVoid))
}

func (s *Server) policyRoutes(r chi.Router) {
	r.Get("/policy/edit", s.do(s.showPolicyEdit))
	r.Post("/policy/edit", s.do(s.takePolicyEdit))
	r.Post("/policy/edit/file", s.do(s.takePolicyFile))
	r.Post("/policy/edit/from/{version}", s.do(s.returnToPolicy))
	r.Post("/policy/edit/drop", s.do(s.dropPolicyEdit))
	r.Get("/policy/edit/trial", s.do(s.showPolicyTrial))
	r.Get("/policy/edit/confirm", s.do(s.showPolicyConfirm))
	r.Post("/policy/edit/confirm", s.do(s.takePolicyConfirm))
}

func (s *Server) peopleRoutes(r chi.Router) {
	r.Get(view.BeginPath, s.do(s.showBegin))
	r.Get(view.BeginHospital, s.do(s.showBeginHospital))
	r.Post(view.BeginHospital, s.do(s.takeBeginHospital))
	r.Get(view.BeginWards, s.do(s.showBeginList(view.BeginWards)))
	r.Post(view.BeginWards, s.do(s.takeBeginWards))
	r.Get(view.BeginStaff, s.do(s.showBeginList(view.BeginStaff)))
	r.Post(view.BeginStaff, s.do(s.takeBeginStaff))
	r.Get("/people", s.do(s.showPeople))
	r.Post("/people", s.do(s.openAccount))
	r.Get("/people/{account}", s.do(s.showAccount))
	r.Post("/people/{account}", s.do(s.changeAccount))
	r.Post("/people/{account}/passphrase", s.do(s.resetPassphrase))
	r.Post("/people/{account}/sessions/end", s.do(s.endSessionsOf))
	r.Post("/people/{account}/second-step/reset", s.do(s.resetSecondStep))
	r.Get("/tablets", s.do(s.showTablets))
	r.Post("/tablets", s.do(s.enrolTablet))
	r.Post("/tablets/{tablet}/drop", s.do(s.dropTablet))
	r.Post("/people-second-step", s.do(s.setStepRule))
	r.Post("/people/{account}/invitation", s.do(s.invite))
	r.Post("/people-links", s.do(s.offerLink))
	r.Get("/ward-values", s.do(s.showWardValues))
	r.Post("/ward-values", s.do(s.addWard))
	r.Get("/ward-values/{ward}", s.do(s.showWardForm))
	r.Post("/ward-values/{ward}", s.do(s.changeWard))
	r.Post("/hospital", s.do(s.changeHospital))
	r.Get("/backups", s.do(s.showBackups))
}

// right lets only those pass who have it.
func (s *Server) right(needed account.Right) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if !personOf(r).May(needed) {
				s.fail(w, r, fault.New(fault.Forbidden, "fault.not-your-right"))
				return
			}
			next.ServeHTTP(w, r)
		})
	}
}
