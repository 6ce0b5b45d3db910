package web

import (
	"net/http"
	"strings"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/words"
	"dwellbook/web/view"
)

// shell is what stands around a page for whoever is signed in: only the places
// the person may go to.
func (s *Server) shell(r *http.Request, title string) view.Shell {
	p := personOf(r)
	shell := view.Shell{Title: title}
	if p.ID == "" {
		return shell
	}
	shell.SignedIn, shell.IdleMinutes = true, int(idleTimeout/time.Minute)
	shell.At = s.desk.Now()
	if p.May(account.RecordCare) {
		shell.Account, shell.Started = string(p.ID), s.sessions.GetInt64(r.Context(), sessionStarted)
	}
	shell.Person, shell.Role = p.Name, words.Say(r.Context(), p.Role.Word())
	shell.Greeting = s.greeting(r)
	for _, n := range []struct {
		right     account.Right
		key, href string
	}{
		{account.SeeWards, "nav.wards", "/wards"},
		{account.SeeWards, "nav.choose-size", "/choose-size"},
		{account.SeeAudit, "nav.audit", "/audit"},
		{account.SeeOwnRecord, "nav.my-record", "/my-record"},
		{account.ManagePeople, "nav.people", "/people"},
		{account.ManagePeople, "nav.ward-values", "/ward-values"},
		{account.ManagePeople, "nav.backups", "/backups"},
		{account.SeePolicy, "nav.policy", "/policy"},
		{account.SeeProof, "nav.record", "/record"},
	} {
		if p.May(n.right) {
			shell.Nav = append(shell.Nav, view.NavItem{
				Label: words.Say(r.Context(), n.key), Href: n.href, Current: strings.HasPrefix(r.URL.Path, n.href) || n.right == account.SeeAudit && view.IsLeadPage(r.URL.Path),
			})
		}
	}
	return shell
}

// say is words.Say for the request's reader.
func say(r *http.Request, key string, args ...any) string {
	return words.Say(r.Context(), key, args...)
}

// see sends the person on to another page.
func see(w http.ResponseWriter, r *http.Request, to string) error {
	http.Redirect(w, r, to, http.StatusSeeOther) // #nosec G710 -- a path of ours; the one a client names goes through localPath
	return nil
}
