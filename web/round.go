package web

import (
	"net/http"
	"net/url"
	"slices"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// showRound is the ward's lines one a screen. All are on the page, so that the
// script goes from one to the next without asking; without it each is a page.
func (s *Server) showRound(w http.ResponseWriter, r *http.Request) error {
	round, err := s.desk.Round(r.Context(), personOf(r), line.ID(chi.URLParam(r, "ward")))
	if err != nil {
		return err
	}
	r = s.onWard(r, round.Ward)
	page := view.Round{
		Shell: s.shell(r, say(r, "round.title")), Round: round, Notice: s.takeNotice(r), Stored: s.storedLook(r),
		At: stopAt(round, r.URL.Query()),
	}
	for i, stop := range round.Stops {
		page.Looks = append(page.Looks, lookOf(stop, i == page.At, r.URL.Query().Get("step")))
	}
	if page.Stored != nil {
		page.Stored.Back = r.URL.Path + "?line=" + url.QueryEscape(string(page.Stored.Entry.Line))
	}
	return s.show(w, r, http.StatusOK, view.RoundPage(page))
}

func lookOf(stop desk.Stop, shows bool, step string) view.Look {
	look := view.Look{
		Stop: stop, Part: view.AskWhose, Beside: !shows,
		Form: view.Form{Values: url.Values{"entry": {string(desk.NewID())}, "from": {view.FromRound}}},
	}
	switch {
	case shows && step == view.AskFound:
		look.Part = view.AskFound
	case !stop.Left && !(shows && step == view.AskWhose):
		look.Part = view.LookDone
	}
	return look
}

// stopAt is the place of the stop the address asks for: the line it names, or
// the first that is left, from after the line where somebody comes from it.
// len(round.Stops) is the end of the round.
func stopAt(round *desk.Round, asked url.Values) int {
	at := func(id string) int {
		return slices.IndexFunc(round.Stops, func(s desk.Stop) bool { return string(s.Line.ID) == id })
	}
	if i := at(asked.Get("line")); i >= 0 {
		return i
	}
	n := len(round.Stops)
	if asked.Has("end") {
		return n
	}
	from := at(asked.Get("after")) + 1
	for i := range n {
		if k := (from + i) % n; round.Stops[k].Left {
			return k
		}
	}
	return n
}
