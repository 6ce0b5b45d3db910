package web

import (
	"net"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

const (
	labelOpens   = "look" // the page of the line that a label's code opens
	paperCookie  = "dwellbook-paper"
	paperKeptFor = 365 * 24 * time.Hour
)

func (s *Server) showLabel(w http.ResponseWriter, r *http.Request) error {
	label, err := s.desk.Label(r.Context(), personOf(r), line.ID(chi.URLParam(r, "line")))
	if err != nil {
		return err
	}
	origin, only := s.origin(r)
	code, err := view.NewQR(origin + view.LabelPath + label.Code)
	if err != nil {
		return fault.Wrap(err, fault.Invalid, "label.address")
	}
	page := view.Label{
		Shell: s.shell(r, say(r, "label.title")), Label: label, Now: s.desk.Now(), Paper: s.paper(w, r), Place: 1, QR: code,
	}
	if n, err := strconv.Atoi(r.URL.Query().Get("place")); err == nil && n >= 1 && n <= view.LabelsOnSheet {
		page.Place = n
	}
	if only {
		page.Only = origin
	}
	return s.show(w, r, http.StatusOK, view.LabelPage(page))
}

// paper is what the device prints labels on: what was chosen, now or last.
func (s *Server) paper(w http.ResponseWriter, r *http.Request) view.Paper {
	if chosen := view.Paper(r.URL.Query().Get("paper")); slices.Contains(view.Papers, chosen) {
		http.SetCookie(w, &http.Cookie{ // #nosec G124 -- Secure wherever people come over TLS
			Name: cookieName(paperCookie, s.secure), Value: string(chosen), Path: "/", MaxAge: int(paperKeptFor / time.Second),
			Secure: s.secure, HttpOnly: true, SameSite: http.SameSiteLaxMode,
		})
		return chosen
	}
	if kept, err := r.Cookie(cookieName(paperCookie, s.secure)); err == nil && slices.Contains(view.Papers, view.Paper(kept.Value)) {
		return view.Paper(kept.Value)
	}
	return view.Papers[0]
}

// origin is the scheme and host that a label opens: the public ones where they
// were set, else those of the request. A request may name any host, but then it
// only spoils the label of whoever sent it: the page is kept by no cache. only:
// that is this computer, which no phone can reach.
func (s *Server) origin(r *http.Request) (origin string, only bool) {
	if s.public != "" {
		return s.public, false
	}
	u := url.URL{Scheme: "http", Host: r.Host}
	if s.secure || r.TLS != nil {
		u.Scheme = "https"
	}
	name := u.Hostname()
	return u.String(), name == "localhost" || net.ParseIP(name).IsLoopback()
}

// openLabel leads from a label to its line, once somebody is signed in.
func (s *Server) openLabel(w http.ResponseWriter, r *http.Request) error {
	l, err := s.desk.LineOfLabel(r.Context(), personOf(r), chi.URLParam(r, "code"))
	if err != nil {
		return err
	}
	page := "/lines/" + string(l.ID)
	if l.Out == line.Far && l.Outcome == line.WithLine {
		page += "/" + labelOpens
	}
	return see(w, r, page)
}

func (s *Server) showScan(w http.ResponseWriter, r *http.Request) error {
	w.Header().Set("Permissions-Policy", devices("self"))
	return s.show(w, r, http.StatusOK, view.ScanPage(s.shell(r, say(r, "scan.title"))))
}
