package desk

import (
	"context"
	"errors"
	"slices"
	"strings"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/flow"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// SizeQuestion is what a person chooses a size for.
type SizeQuestion struct {
	For    line.Purpose
	Need   flow.MillilitresPerMinute // 0: not said
	Volume flow.Millilitre           // 0: not said
	With   flow.Conditions
	Site   line.Site  // 0: not said
	Gauge  line.Gauge // to look at closer; 0: the thinnest that meets the need
}

// Sizes is the answer: each gauge in use, widest first.
type Sizes struct {
	SizeQuestion
	Rows []SizeRow
	Fits line.Gauge      // the thinnest that meets the need; 0: none surely does, or nothing is needed
	Look *SizeRow        // the one to look at closer; nil: there is none with an answer
	Site []audit.Finding // what the policy says of the site, whatever the size
}

// SizeRow is one gauge. Contrast has no answer of the model, but what power
// injectors have given: the Lower and Upper of its judgement.
type SizeRow struct {
	Gauge    line.Gauge
	Judged   flow.Judgement // NotJudged where nothing is needed
	Answer   flow.Answer    // to two digits
	Err      error          // why there is none; see NoFlowAnswer
	Findings []audit.Finding
}

// Unknown reports whether neither policy nor program know the cannula.
func (r *SizeRow) Unknown() bool {
	var n *flow.NotKnown
	return errors.As(r.Err, &n)
}

// Answered reports whether the model has an answer for this gauge.
func (r *SizeRow) Answered() bool { return r.Err == nil && len(r.Answer.Parts) > 0 }

// Sizes says what each of the hospital's cannulas gives, and which meet the need.
// Errors: what is wrong with the conditions or the need stands in every row.
func (d *Desk) Sizes(ctx context.Context, who Person, q SizeQuestion) (*Sizes, error) {
	if err := who.require(account.SeeWards); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	s := &Sizes{SizeQuestion: q}
	cannulas := h.Rulebook.PolicyAt(d.Now()).Cannulas()
	need := flow.Need{Therapy: audit.TherapyFor(q.For), Flow: q.Need}
	judged, err := need.Judge(cannulas, q.With)
	if err != nil {
		return nil, err
	}
	if q.Need > 0 {
		s.Fits = line.Gauge(flow.Thinnest(judged))
	}
	for _, g := range line.Gauges {
		row := SizeRow{Gauge: g, Err: &flow.NotKnown{Gauge: flow.Gauge(g), Quantity: flow.Bore}}
		for k, c := range cannulas {
			if c.Gauge() != flow.Gauge(g) {
				continue
			}
			row.Judged, row.Err = judged[k], judged[k].Err
			if need.Therapy != flow.Contrast && row.Err == nil {
				var a flow.Answer
				a, row.Err = flow.Through(c, q.With)
				row.Answer = a.Rounded()
			}
		}
		if q.Need == 0 {
			row.Judged.Verdict = flow.NotJudged
		}
		s.Rows = append(s.Rows, row)
	}
	s.look()
	if q.Site != 0 {
		s.findings(h.Rulebook, d.Now())
	}
	return s, nil
}

// look finds the row to look at closer: the one asked for, else the thinnest
// that meets, else the widest with an answer.
func (s *Sizes) look() {
	wanted := s.Gauge
	if wanted == 0 {
		wanted = s.Fits
	}
	for i := range s.Rows {
		r := &s.Rows[i]
		if r.Answered() && (s.Look == nil || r.Gauge == wanted) {
			s.Look = r
		}
	}
}

// siteRules are the policy's rules about a site, sizeRules those about a size at a site.
var (
	siteRules = []line.Rule{audit.AcrossJoint, audit.LowerLimbInAdult}
	sizeRules = []line.Rule{audit.SmallGaugeInElbowCrease, audit.LargeGaugeInSmallVein}
)

// findings asks the audit about an adult's line of each gauge at the site.
func (s *Sizes) findings(book *audit.Rulebook, now line.Minute) {
	for i := range s.Rows {
		a := audit.Assess(book, []line.Mark{{
			Kind: line.KindOccasion, Subject: 1, Line: 1, Seq: 1, Known: 1, At: now, Precision: line.ToMinute,
			Detail: line.Detail{Outcome: line.WithLine, Site: s.SizeQuestion.Site, Gauge: s.Rows[i].Gauge, Purposes: line.SetOf(s.For)},
		}}, now)
		s.Site = nil // the same for every gauge
		for _, f := range a.Findings() {
			switch {
			case slices.Contains(siteRules, f.Rule):
				s.Site = append(s.Site, f)
			case slices.Contains(sizeRules, f.Rule):
				s.Rows[i].Findings = append(s.Rows[i].Findings, f)
			}
		}
	}
}

// NoFlowAnswer says why the model gives no answer.
func NoFlowAnswer(err error) line.Message {
	var (
		out     *flow.OutOfRange
		unknown *flow.NotKnown
		fast    *flow.TooFast
		still   *flow.NoFlow
	)
	quantity := func(q flow.Quantity) line.Message { return line.Say("flow.quantity." + string(q)) }
	switch {
	case errors.As(err, &out):
		return line.Say("size.out-of-range", "quantity", quantity(out.Quantity),
			"value", line.Number(out.Value), "least", line.Number(out.Least), "most", line.Number(out.Most))
	case errors.As(err, &unknown):
		return line.Say("size.not-known", "quantity", quantity(unknown.Quantity), "gauge", line.Gauge(unknown.Gauge))
	case errors.As(err, &fast):
		return line.Say("size.too-fast", "part", line.Say("flow.part."+fast.Part.String()), "reynolds", line.Number(fast.Reynolds), "most", line.Number(fast.Most))
	case errors.As(err, &still):
		return line.Say("size.no-flow", "drive", inMercury(still.Drive), "vein", inMercury(still.Vein))
	}
	return line.Say("size.no-answer")
}

func inMercury(p flow.Pascal) line.Number {
	return line.Number(p / flow.MillimetreOfMercury(1).Pascal())
}

// ConditionsInWords says under what a fluid runs.
func ConditionsInWords(ctx context.Context, c flow.Conditions) string {
	all := []string{words.Say(ctx, "flow.with.fluid", "fluid", line.Say("flow.fluid."+c.Fluid.String()), "celsius", c.Temperature)}
	if c.Head > 0 || c.Bag == 0 {
		all = append(all, words.Say(ctx, "flow.with.head", "cm", c.Head))
	}
	if c.Bag > 0 {
		all = append(all, words.Say(ctx, "flow.with.pressure", "mmhg", c.Bag))
	}
	if c.Tubing == flow.NoTubing {
		all = append(all, words.Say(ctx, "flow.with.bare"))
	} else {
		all = append(all, words.Say(ctx, "flow.with.tubing."+c.Tubing.String()))
	}
	for _, part := range []struct {
		there bool
		key   string
	}{{c.Extension, "flow.with.extension"}, {c.Connector, "flow.with.connector"}} {
		if part.there {
			all = append(all, words.Say(ctx, part.key))
		}
	}
	return words.Say(ctx, "flow.with", "parts", strings.Join(append(all, words.Say(ctx, "flow.with.vein", "mmhg", c.Vein)), ", "))
}
