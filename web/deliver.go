package web

import (
	"context"
	"encoding/json"
	"log/slog"
	"net/http"
	"net/url"
	"time"

	"github.com/go-chi/chi/v5"

	"dwellbook/internal/delivery"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// deviceTerms is what a device is told at sign-in, so that it can keep what is
// typed while there is no network.
type deviceTerms struct {
	Key   []byte `json:"key"` // the point to seal to, uncompressed
	Info  string `json:"info"`
	Grant string `json:"grant"`
	Until string `json:"until"` // when what was read is to be gone from the device
}

func (s *Server) giveTerms(w http.ResponseWriter, r *http.Request) error {
	device, err := line.ParseID(r.URL.Query().Get("device"))
	if err != nil {
		return fault.Wrap(err, fault.Invalid, "fault.fields")
	}
	t := deviceTerms{Info: delivery.Info, Until: s.sessionEnd(r.Context()).UTC().Format(time.RFC3339)}
	if t.Key, t.Grant, err = s.desk.DeliveryTerms(r.Context(), personOf(r), device); err != nil {
		return err
	}
	return answerJSON(w, r, t)
}

// parcel is what a device hands over at a time, in the order of capture.
type parcel struct {
	Sent    time.Time `json:"sent"` // by the device's clock
	Entries [][]byte  `json:"entries"`
}

// deliver takes sealed entries from whoever brings them, and answers with the
// fate of each: never with a reason, which is its author's alone. Where one
// cannot be taken now, the answer ends before it.
func (s *Server) deliver(w http.ResponseWriter, r *http.Request) error {
	var in parcel
	if err := json.NewDecoder(r.Body).Decode(&in); err != nil || in.Sent.IsZero() {
		return fault.Wrap(err, fault.Invalid, "fault.fields")
	}
	fates := []desk.Fate{}
	for _, sealed := range in.Entries {
		fate, err := s.desk.Deliver(r.Context(), sealed, in.Sent, s.takeCarried)
		if err != nil {
			s.log.LogAttrs(r.Context(), slog.LevelWarn, "a delivery must come again",
				slog.String("id", requestID(r.Context())), slog.String("error", err.Error()))
			break
		}
		fates = append(fates, fate)
	}
	return answerJSON(w, r, struct {
		Fates []desk.Fate `json:"fates"`
	}{fates})
}

// takeCarried records a form that a device kept, by the way that it would have
// gone: the same route, the same reader, the same checks.
func (s *Server) takeCarried(ctx context.Context, who desk.Person, e delivery.Entry) error {
	form, err := url.ParseQuery(e.Form)
	if err != nil {
		return fault.Wrap(err, fault.Invalid, "fault.fields")
	}
	route := chi.NewRouteContext()
	if !s.routes.Match(route, http.MethodPost, e.Path) {
		return fault.New(fault.NotFound, "fault.no-such-page")
	}
	a, ok := carriedActs[route.RoutePattern()]
	if !ok || form.Get("check") != "" || form.Get("repeat") != "" {
		return fault.New(fault.Invalid, "delivery.not-a-record")
	}
	ctx = contextWithRoute(context.WithValue(ctx, personKey{}, who), route)
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, e.Path, http.NoBody)
	if err != nil {
		return fault.Wrap(err, fault.Invalid, "delivery.not-a-record")
	}
	o, err := s.occurrenceOf(r, a)
	if err != nil {
		return err
	}
	r = s.onWard(r, o.ward)
	o.now = line.MinuteOf(e.Captured)
	_, err = s.record(r, a, o, form)
	if desk.Taken(err) { // it came by itself too, and nobody heard the answer
		o.now = s.sent(r, form.Get("entry"))
		_, err = s.record(r, a, o, form)
	}
	if draft := form.Get("draft"); err == nil && draft != "" {
		return s.desk.DropDraft(ctx, who, draft)
	}
	return err
}

// carriedActs are the acts whose forms a device keeps, by route.
var carriedActs = func() map[string]act {
	acts := map[string]act{"/wards/{ward}/admit": actAdmit, "/lines/{line}/look": actLook}
	for _, a := range patientActs {
		acts["/patients/{patient}/"+a.path] = a
	}
	for _, a := range lineActs {
		acts["/lines/{line}/"+a.path] = a
	}
	return acts
}()

// contextWithRoute lets a handler find the parameters of a route that the
// router did not take.
func contextWithRoute(ctx context.Context, route *chi.Context) context.Context {
	return context.WithValue(ctx, chi.RouteCtxKey, route)
}

func answerJSON(w http.ResponseWriter, r *http.Request, v any) error {
	body, err := json.Marshal(v)
	if err != nil {
		return err
	}
	return send(w, r, http.StatusOK, "application/json", body)
}
