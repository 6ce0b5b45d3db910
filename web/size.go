package web

import (
	"bytes"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/flow"
	"dwellbook/internal/line"
	"dwellbook/web/view"
)

// usualSize is what the page shows at first: a litre in eight hours.
var usualSize = url.Values{"for": {"fluids"}, "volume": {"1000"}, "minutes": {"480"}}

func (s *Server) showSizes(w http.ResponseWriter, r *http.Request) error {
	page, status, err := s.sizes(r)
	if err != nil {
		return err
	}
	page.Shell = s.shell(r, say(r, "sizepage.title"))
	return s.show(w, r, status, view.SizePage(page))
}

// answerSizes sends the answer alone, for the form as it is being filled in.
func (s *Server) answerSizes(w http.ResponseWriter, r *http.Request) error {
	page, _, err := s.sizes(r)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := view.SizeAnswer(page).Render(r.Context(), &b); err != nil {
		return err
	}
	return send(w, r, http.StatusOK, "text/html; charset=utf-8", b.Bytes())
}

// sizes reads what the address asks and answers it; what cannot be read stands
// in the page's form, without an answer.
func (s *Server) sizes(r *http.Request) (page view.Sizes, status int, err error) {
	values := r.URL.Query()
	if len(values) == 0 {
		values = usualSize
	}
	in := &reader{form: values, fields: fault.Fields{}}
	question := readSize(in)
	form, status, err := asked(r, "/choose-size", in.err())
	if err != nil {
		return page, status, err
	}
	form.Values = values
	page = view.Sizes{Form: form}
	if status == http.StatusOK {
		page.Answer, err = s.desk.Sizes(r.Context(), personOf(r), question)
	}
	return page, status, err
}

// secondsOf are the units in which a flow can be typed, as seconds for 1 mL.
var secondsOf = map[string]float64{"ml-h": 3600, "ml-min": 60, "ml-s": 1}

func readSize(r *reader) desk.SizeQuestion {
	q := desk.SizeQuestion{For: parsed1(r, "for", line.ForFluids), Site: parsed0(r, "site", line.Wrist), Gauge: r.gauge("gauge", false)}
	q.Volume = flow.Millilitre(r.amount("volume", 20000))
	minutes := r.amount("minutes", 10080)
	switch typed := r.flowNeeded("flow", "unit"); {
	case typed > 0:
		q.Need = typed
	case q.Volume > 0 && minutes > 0:
		q.Need = flow.Over(q.Volume, time.Duration(minutes*float64(time.Minute)))
		if flow.Required.Check(float64(q.Need)) != nil {
			r.wrong("minutes", "sizepage.too-soon")
		}
	}
	q.With = audit.TherapyFor(q.For).Usual()
	var err error
	if word := r.get("fluid"); word != "" {
		if q.With.Fluid, err = flow.ParseFluid(word); err != nil {
			r.wrong("fluid", "act.unknown-word", "word", word)
		}
	}
	if word := r.get("tubing"); word != "" {
		if q.With.Tubing, err = flow.ParseTubing(word); err != nil {
			r.wrong("tubing", "act.unknown-word", "word", word)
		}
	}
	r.within(flow.Head, (*float64)(&q.With.Head))
	r.within(flow.BagPressure, (*float64)(&q.With.Bag))
	if yes := parsed0(r, "connector", line.Yes); yes != 0 {
		q.With.Connector = yes == line.Yes
	}
	q.With.Extension = r.get("extension") != ""
	return q
}

// amount reads a number over 0; 0 where the field is empty.
func (r *reader) amount(name string, most float64) float64 {
	word := r.get(name)
	if word == "" {
		return 0
	}
	n, err := strconv.ParseFloat(word, 64)
	if err != nil || !(n > 0 && n <= most) {
		r.wrong(name, "sizepage.amount", "least", 0, "most", line.Number(most))
		return 0
	}
	return n
}

// flowNeeded reads a flow with its unit; 0 where the field is empty.
func (r *reader) flowNeeded(name, unit string) flow.MillilitresPerMinute {
	seconds := secondsOf[r.get(unit)]
	if seconds == 0 {
		seconds = secondsOf["ml-h"]
	}
	return flow.PerSecond(r.amount(name, line.MostNeeded/3600.0*seconds) / seconds)
}

// within reads a quantity into value, which stays where the field is empty.
func (r *reader) within(q flow.Quantity, value *float64) {
	word := r.get(string(q))
	if word == "" {
		return
	}
	n, err := strconv.ParseFloat(word, 64)
	if err == nil {
		err = q.Check(n)
	}
	if err != nil {
		least, most := q.Limits()
		r.wrong(string(q), "sizepage.number", "least", least, "most", most)
		return
	}
	*value = n
}
