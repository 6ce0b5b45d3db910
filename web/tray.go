package web

import (
	"maps"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

func (s *Server) showTray(w http.ResponseWriter, r *http.Request) error {
	tray, err := s.desk.Tray(r.Context(), personOf(r))
	if err != nil {
		return err
	}
	page := view.Tray{Shell: s.shell(r, say(r, "tray.title")), Items: tray, Notice: s.takeNotice(r)}
	return s.show(w, r, http.StatusOK, view.TrayPage(page))
}

func (s *Server) dropDraft(w http.ResponseWriter, r *http.Request) error {
	if err := s.desk.DropDraft(r.Context(), personOf(r), chi.URLParam(r, "draft")); err != nil {
		return err
	}
	return see(w, r, "/tray")
}

// draftOf is the form in the person's own tray that the address names, and why
// it waits; nil where it names none.
func (s *Server) draftOf(r *http.Request, zone *time.Location) (values url.Values, reason string, err error) {
	id := r.URL.Query().Get("draft")
	if id == "" {
		return nil, "", nil
	}
	tray, err := s.desk.Tray(r.Context(), personOf(r))
	if err != nil {
		return nil, "", err
	}
	for _, one := range tray {
		if one.ID != id {
			continue
		}
		values = maps.Clone(one.Form)
		values.Set("draft", id)
		if one.Carried == nil {
			return values, "", nil
		}
		fixMoment(values, *one.Carried, r.URL.Query().Get("clock") == view.ByServersClock, zone)
		return values, one.Carried.Reason, nil
	}
	return nil, "", fault.New(fault.NotFound, "fault.no-such-page")
}

// fixMoment puts the moment that was now when the form was typed in the place
// of now: by the device's clock, or by the server's.
func fixMoment(form url.Values, c account.Carried, byServer bool, zone *time.Location) {
	at := line.MinuteOf(c.Captured)
	if byServer {
		at = line.MinuteOf(c.Captured.Add(-c.Ahead))
	}
	switch form.Get("when") {
	case "", "now":
	case "ago":
		n, err := strconv.Atoi(form.Get("when-ago"))
		if err != nil {
			return // it is shown as typed
		}
		at -= line.Minute(n)
	default:
		return
	}
	fillWhen(line.Entry{Happened: at, Precision: line.ToMinute}, zone, form)
}
