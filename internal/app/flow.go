package app

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"text/tabwriter"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/flow"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// FlowQuery is what the flow command is asked, as typed.
type FlowQuery struct {
	Gauge                                                          int
	LengthMM, BoreMM, TemperatureC, HeadCM, PressureMMHg, VeinMMHg float64
	Fluid, Tubing                                                  string
	Connector, Extension, CannulaOnly                              bool
	Given                                                          map[string]bool // the flags that were typed
}

// Flowing is the answer of the flow command.
type Flowing struct {
	flow.Answer
	ctx context.Context
}

// Flow says how fast a fluid runs through a cannula.
func Flow(ctx context.Context, q FlowQuery) (Flowing, error) {
	size, err := q.size()
	if err != nil {
		return Flowing{}, err
	}
	with, err := q.conditions()
	if err != nil {
		return Flowing{}, err
	}
	cannula, err := flow.NewCannula(size)
	if err != nil {
		return Flowing{}, noAnswer(err)
	}
	a, err := flow.Through(cannula, with)
	if err != nil {
		return Flowing{}, noAnswer(err)
	}
	return Flowing{a, ctx}, nil
}

// noAnswer says why there is none.
func noAnswer(err error) error {
	why := desk.NoFlowAnswer(err)
	return fault.Wrap(err, fault.Invalid, why.Key, why.Args...)
}

func (q FlowQuery) size() (flow.Size, error) {
	if err := q.exists(); err != nil {
		return flow.Size{}, err
	}
	for _, one := range []struct {
		flag     string
		quantity flow.Quantity
		value    float64
	}{{"length-mm", flow.Length, q.LengthMM}, {"bore-mm", flow.Bore, q.BoreMM}} {
		if q.Given[one.flag] {
			if err := one.quantity.Check(one.value); err != nil {
				return flow.Size{}, noAnswer(err)
			}
		}
	}
	return flow.Size{Gauge: flow.Gauge(q.Gauge), Length: flow.Millimetre(q.LengthMM), Bore: flow.Millimetre(q.BoreMM)}, nil
}

func (q FlowQuery) exists() error {
	if !q.Given["gauge"] {
		return &Misuse{Text: "-gauge is needed; see -h"}
	}
	if g, err := line.ParseGauge(fmt.Sprint(q.Gauge)); err != nil || g == 0 {
		return &Misuse{Text: fmt.Sprintf("-gauge: there is no %dG; there are %v", q.Gauge, line.Gauges)}
	}
	return nil
}

func (q FlowQuery) conditions() (c flow.Conditions, err error) {
	if q.Given["head-cm"] && q.Given["pressure-mmhg"] {
		return c, &Misuse{Text: "give either -head-cm or -pressure-mmhg"}
	}
	c.Temperature, c.Head = flow.Celsius(q.TemperatureC), flow.Centimetre(q.HeadCM)
	if q.Given["pressure-mmhg"] {
		c.Head, c.Bag = 0, flow.MillimetreOfMercury(q.PressureMMHg)
	}
	if c.Fluid, err = flow.ParseFluid(q.Fluid); err != nil {
		return c, &Misuse{Text: "-fluid: " + err.Error()}
	}
	if q.CannulaOnly {
		for _, other := range []string{"connector", "extension", "tubing", "vein-mmhg"} {
			if q.Given[other] {
				return c, &Misuse{Text: "-cannula-only leaves no room for -" + other}
			}
		}
		return c, nil
	}
	c.Connector, c.Extension, c.Vein = q.Connector, q.Extension, flow.MillimetreOfMercury(q.VeinMMHg)
	if c.Tubing, err = flow.ParseTubing(q.Tubing); err != nil {
		return c, &Misuse{Text: "-tubing: " + err.Error()}
	}
	return c, nil
}

// JSON writes the answer as one JSON document, in full precision.
func (f Flowing) JSON(w io.Writer) error {
	type partJSON struct {
		Part  string  `json:"part"`
		Share float64 `json:"pressure_share"`
	}
	answer := struct {
		Flow     float64    `json:"ml_per_min"`
		Lower    float64    `json:"lower"`
		Upper    float64    `json:"upper"`
		Reynolds float64    `json:"reynolds"`
		Parts    []partJSON `json:"parts"`
		Limits   string     `json:"limits"`
	}{float64(f.Flow), float64(f.Lower), float64(f.Upper), float64(f.Reynolds()), nil, f.Limits().String()}
	for _, p := range f.Parts {
		answer.Parts = append(answer.Parts, partJSON{p.Part.String(), p.Share})
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(answer)
}

// Table writes the answer for people, to two digits.
func (f Flowing) Table(w io.Writer) error {
	a := f.Rounded()
	say := func(key string, args ...any) { fmt.Fprintln(w, words.Say(f.ctx, key, args...)) }
	say("size.said", "gauge", line.Gauge(a.Cannula.Gauge()), "flow", a.Flow, "lower", a.Lower, "upper", a.Upper)
	fmt.Fprintln(w, desk.ConditionsInWords(f.ctx, a.Conditions))
	fmt.Fprintln(w)
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	for _, p := range a.Parts {
		fmt.Fprintf(t, "%s\t%s\n", words.Say(f.ctx, "flow.part."+p.Part.String()), fmt.Sprintf("%.0f %%", 100*p.Share))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprintln(w)
	say("size.limits", "part", line.Say("flow.part."+a.Limits().String()))
	say("size.fourth-power", "flow", a.FourthPower)
	say("size.reynolds", "reynolds", fmt.Sprintf("%.0f", float64(a.Reynolds())))
	say("size.caution")
	return nil
}
