package web

import (
	"bytes"
	"encoding/json"
	"net/http"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/web/static"
	"dwellbook/web/view"
)

// offlinePath is the page that a device shows where it has nothing else.
const offlinePath = "/offline"

// serveWorker gives the script that answers for the server while there is no
// network. It stands at the root, since it answers for all pages, and names
// the files it keeps, so that it changes whenever one of them does.
func (s *Server) serveWorker(w http.ResponseWriter, r *http.Request) error {
	files, err := json.Marshal(append(static.URLs(), offlinePath))
	if err != nil {
		return err
	}
	w.Header().Set("Cache-Control", "no-cache")
	body := "\"use strict\";\nconst files = " + string(files) + ";\n" + static.Text("seal.js") + static.Text("worker.js")
	return send(w, r, http.StatusOK, "text/javascript; charset=utf-8", []byte(body))
}

// showManifest says how the pages install as an app (W3C Web Application Manifest).
func (s *Server) showManifest(w http.ResponseWriter, r *http.Request) error {
	type icon struct {
		Source string `json:"src"`
		Type   string `json:"type"`
		Sizes  string `json:"sizes"`
	}
	body, err := json.Marshal(struct {
		Name    string `json:"name"`
		Start   string `json:"start_url"`
		Display string `json:"display"`
		Icons   []icon `json:"icons"`
	}{say(r, "kit.brand"), "/", "standalone", []icon{{static.URL("mark.svg"), "image/svg+xml", "any"}}})
	if err != nil {
		return err
	}
	w.Header().Set("Cache-Control", "no-cache")
	return send(w, r, http.StatusOK, "application/manifest+json", body)
}

func (s *Server) showOffline(w http.ResponseWriter, r *http.Request) error {
	return s.show(w, r, http.StatusOK, view.OfflinePage(view.Shell{Title: say(r, "offline.title")}))
}

// bedsidePage is a page that a device reads while there is no network.
type bedsidePage struct {
	Path string `json:"path"`
	HTML string `json:"html"`
}

// bedsideActs are the forms that are needed there for each line.
var bedsideActs = map[string]bool{"review": true, "dressing": true, "remove": true, "not-seen": true}

// takeAlong gives all bedside pages of a ward at once, each as it is when it is
// opened by itself. Who opened which patient is noted as taken along.
func (s *Server) takeAlong(w http.ResponseWriter, r *http.Request) error {
	r = r.WithContext(desk.TakingAlong(r.Context()))
	b, err := s.desk.Board(r.Context(), personOf(r), line.ID(chi.URLParam(r, "ward")))
	if err != nil {
		return err
	}
	var pages []bedsidePage
	add := func(path, name string, id line.ID, h handler) {
		if err == nil {
			var html string
			html, err = s.drawn(r, path, name, id, h)
			pages = append(pages, bedsidePage{path, html})
		}
	}
	// Pages of a kind stand together: they are much alike, and pack well so.
	ward := "/wards/" + string(b.Ward.Ward.Ward)
	add(ward, "ward", b.Ward.Ward.Ward, s.showBoard)
	add(ward+"/admit", "ward", b.Ward.Ward.Ward, s.showAct(actAdmit))
	add(ward+"/round", "ward", b.Ward.Ward.Ward, s.showRound)
	for _, p := range b.Patients {
		add("/patients/"+string(p.ID), "patient", p.ID, s.showPatient)
	}
	for _, p := range b.Patients {
		add("/patients/"+string(p.ID)+"/place", "patient", p.ID, s.showAct(actOccasion))
	}
	for _, row := range b.Rows {
		add("/lines/"+string(row.Line.ID), "line", row.Line.ID, s.showLine)
	}
	for _, row := range b.Rows {
		add("/lines/"+string(row.Line.ID)+"/look", "line", row.Line.ID, s.showLook)
	}
	for _, a := range lineActs {
		if !bedsideActs[a.path] {
			continue
		}
		for _, row := range b.Rows {
			add("/lines/"+string(row.Line.ID)+"/"+a.path, "line", row.Line.ID, s.showAct(a))
		}
	}
	if err != nil {
		return err
	}
	return answerJSON(w, r, pages)
}

// drawn is a page as its handler draws it, whole.
func (s *Server) drawn(r *http.Request, path, name string, id line.ID, h handler) (string, error) {
	route := chi.NewRouteContext()
	route.URLParams.Add(name, string(id))
	one := r.Clone(contextWithRoute(r.Context(), route))
	one.URL.Path, one.URL.RawQuery = path, ""
	one.Header.Del("Accept-Encoding")
	var page drawing
	err := h(&page, one)
	return page.String(), err
}

// drawing is where a page is drawn that is not sent by itself.
type drawing struct {
	bytes.Buffer
	header http.Header
}

// Header takes what the page alone would have been sent with.
func (d *drawing) Header() http.Header {
	if d.header == nil {
		d.header = http.Header{}
	}
	return d.header
}

// WriteHeader has nothing to do: a page that is not whole gives an error.
func (d *drawing) WriteHeader(int) {}
