package app_test

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
	"dwellbook/internal/fault"
)

// asksFlow is a query as the command's flags leave it, with some typed.
func asksFlow(change func(*app.FlowQuery), typed ...string) app.FlowQuery {
	q := app.FlowQuery{Gauge: 20, Fluid: "saline", TemperatureC: 22, HeadCM: 100, Tubing: "standard", VeinMMHg: 8, Given: map[string]bool{"gauge": true}}
	for _, flag := range typed {
		q.Given[flag] = true
	}
	if change != nil {
		change(&q)
	}
	return q
}

// flowOf is the command's answer for programs.
func flowOf(t *testing.T, q app.FlowQuery) (answer struct {
	Flow                   float64 `json:"ml_per_min"`
	Lower, Upper, Reynolds float64
	Parts                  []struct {
		Part  string
		Share float64 `json:"pressure_share"`
	}
	Limits string
}) {
	t.Helper()
	f, err := app.Flow(t.Context(), q)
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, f.JSON(&out))
	dec := json.NewDecoder(&out)
	dec.DisallowUnknownFields()
	require.NoError(t, dec.Decode(&answer))
	return answer
}

// The flows on packs go with 113.3 x bore^2.21 (abstract 3AP8-8, June 2007).
func TestFlow_OfTheBareCannulaIsThatOfTheStandardTest(t *testing.T) {
	t.Parallel()
	for gauge, bore := range map[int]float64{14: 1.55, 20: 0.75, 22: 0.60} {
		a := flowOf(t, asksFlow(func(q *app.FlowQuery) { q.Gauge, q.Fluid, q.CannulaOnly = gauge, "water", true }, "cannula-only"))
		require.InEpsilon(t, 113.3*math.Pow(bore, 2.21), a.Flow, 0.05, "%dG", gauge)
		require.True(t, a.Lower < a.Flow && a.Flow < a.Upper)
		require.Len(t, a.Parts, 1, "neither set nor vein")
		require.Equal(t, "cannula", a.Limits)
	}
}

func TestFlow_SaysWhichPartTakesThePressure(t *testing.T) {
	t.Parallel()
	bare := flowOf(t, asksFlow(func(q *app.FlowQuery) { q.Gauge = 14 }))
	whole := flowOf(t, asksFlow(func(q *app.FlowQuery) { q.Gauge, q.Connector, q.Extension = 14, true, true }))
	var parts []string
	sum := 0.0
	for _, p := range whole.Parts {
		parts = append(parts, p.Part)
		sum += p.Share
	}
	require.Equal(t, []string{"tubing", "extension", "connector", "cannula", "vein"}, parts)
	require.InDelta(t, 1, sum, 1e-9)
	require.Equal(t, "connector", whole.Limits) // five makes took 29 to 85 % of a wide cannula's flow (Lehn 2015)
	require.Less(t, whole.Flow, bare.Flow)

	pressed := flowOf(t, asksFlow(func(q *app.FlowQuery) { q.Gauge, q.PressureMMHg = 14, 300 }, "pressure-mmhg"))
	require.Greater(t, pressed.Flow, bare.Flow)
	wide := flowOf(t, asksFlow(func(q *app.FlowQuery) { q.Gauge, q.Tubing = 14, "wide" }, "tubing"))
	require.Greater(t, wide.Flow, bare.Flow)
}

func TestFlow_RefusesWhatItCannotAnswer(t *testing.T) {
	t.Parallel()
	for name, tt := range map[string]struct {
		query  app.FlowQuery
		misuse bool
	}{
		"bore not known": {asksFlow(func(q *app.FlowQuery) { q.Gauge, q.LengthMM = 17, 45 }, "length-mm"), false},
		"too hot":        {asksFlow(func(q *app.FlowQuery) { q.TemperatureC = 99 }), false},
		"bore of 0":      {asksFlow(nil, "bore-mm"), false},
		"too long":       {asksFlow(func(q *app.FlowQuery) { q.LengthMM = 200 }, "length-mm"), false},
		"no flow":        {asksFlow(func(q *app.FlowQuery) { q.HeadCM = 5 }, "head-cm"), false},
		"too fast": {asksFlow(func(q *app.FlowQuery) {
			q.Gauge, q.PressureMMHg, q.Fluid, q.TemperatureC, q.CannulaOnly = 14, 300, "water", 40, true
		}, "pressure-mmhg"), false},
		"no gauge":      {asksFlow(func(q *app.FlowQuery) { delete(q.Given, "gauge") }), true},
		"no such gauge": {asksFlow(func(q *app.FlowQuery) { q.Gauge = 19 }), true},
		"no such fluid": {asksFlow(func(q *app.FlowQuery) { q.Fluid = "tea" }), true},
		"no such set":   {asksFlow(func(q *app.FlowQuery) { q.Tubing = "narrow" }), true},
		"two drives":    {asksFlow(func(q *app.FlowQuery) { q.PressureMMHg = 300 }, "head-cm", "pressure-mmhg"), true},
		"bare with set": {asksFlow(func(q *app.FlowQuery) { q.CannulaOnly = true }, "tubing"), true},
	} {
		_, err := app.Flow(t.Context(), tt.query)
		var misuse *app.Misuse
		if tt.misuse {
			require.ErrorAs(t, err, &misuse, name)
			continue
		}
		require.True(t, fault.Is(err, fault.Invalid), name)
		said := app.Explain(t.Context(), err)
		require.NotContains(t, said, "[", name)
		require.NotContains(t, said, "<no value>", name)
	}
}

func TestHazard16_AFlowIsToldWithTwoDigitsAndItsConditions(t *testing.T) {
	t.Parallel()
	f, err := app.Flow(t.Context(), asksFlow(nil))
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, f.Table(&out))
	for _, says := range []string{"20G: about 52 mL/min (41 to 66)", "saline at 22 °C", "100 cm above", "8 mmHg in the vein", "In patients flows can be far lower"} {
		require.Contains(t, out.String(), says)
	}
	require.NotContains(t, out.String(), "[")
}
