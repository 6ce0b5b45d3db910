package flow

import "math"

// Therapy is what a flow is needed for.
type Therapy uint8

// The therapies.
const (
	Maintenance Therapy = iota + 1 // fluids by the hour
	Drug                           // a volume over minutes
	Transfusion
	Contrast // by a power injector
	Resuscitation
)

// Usual is the conditions a therapy is judged under where nothing else is
// known: house rule. A vein of 8 mmHg is that of OpenStax College Physics 12.4.
// Contrast runs under none of them.
func (t Therapy) Usual() Conditions {
	c := Conditions{Fluid: Saline, Temperature: 22, Head: 100, Vein: 8, Tubing: StandardTubing, Connector: true}
	switch t {
	case Transfusion:
		c.Fluid, c.Connector = RedCells, false
	case Resuscitation:
		c.Fluid, c.Bag, c.Connector = Balanced, 300, false
	}
	return c
}

// Need is the flow a therapy needs.
type Need struct {
	Therapy Therapy
	Flow    MillilitresPerMinute
}

// Verdict is how a cannula's flow stands to a need.
type Verdict uint8

// The verdicts.
const (
	NotJudged Verdict = iota // no answer for this cannula
	BelowNeed                // even the upper end of its range is less than the need
	MayMeet                  // the need lies inside its range
	Meets                    // the thinnest that meets the need with the lower end of its range
	Wider                    // wider than that
)

// Judgement is a cannula held against a need.
type Judgement struct {
	Cannula      Cannula
	Verdict      Verdict
	Lower, Upper MillilitresPerMinute // of its flow; an Upper that is not known is +Inf
	// Spare is how many sizes wider it is than the thinnest that meets the
	// need, of those judged: what is too wide is for the asker to say.
	Spare int
	Err   error // why it is not judged
}

// injected is what power injectors have given through a size: at lower the mean
// of a series of 1000 examinations (AJR 2014; authors from memory: Johnson), to
// judge by which is house rule, since a size may take more. Of the two thinnest
// an upper end is known: no 24G of the series reached 3 mL/s, and a 22G may
// tolerate 5 mL/s (ACR Manual on Contrast Media v9, 2013; at second hand).
// What is wider than 18G gives at least as much.
func injected(g Gauge) (lower, upper MillilitresPerMinute, err error) {
	unknown := MillilitresPerMinute(math.Inf(1))
	switch {
	case g == 24:
		return PerSecond(1.7), PerSecond(3), nil
	case g == 22:
		return PerSecond(2.3), PerSecond(5), nil
	case g == 20:
		return PerSecond(3.5), unknown, nil
	case g <= 18:
		return PerSecond(5.3), unknown, nil
	}
	return 0, 0, &NotKnown{Gauge: g, Quantity: Injected}
}

// Judge holds each cannula against the need. The conditions do not matter for
// contrast, which is injected under far more pressure than the model knows.
// Errors: *OutOfRange about the need; what is wrong with one cannula stands in
// its judgement.
func (n Need) Judge(cannulas []Cannula, with Conditions) ([]Judgement, error) {
	if err := check(Required, n.Flow); err != nil {
		return nil, err
	}
	all := make([]Judgement, len(cannulas))
	for k, c := range cannulas {
		all[k] = n.hold(c, with)
	}
	var fits Gauge // the thinnest that meets
	for _, j := range all {
		if j.Verdict == Meets {
			fits = max(fits, j.Cannula.gauge)
		}
	}
	for k := range all {
		if j := &all[k]; j.Verdict == Meets && j.Cannula.gauge < fits {
			j.Verdict, j.Spare = Wider, spare(all, j.Cannula.gauge, fits)
		}
	}
	return all, nil
}

// Thinnest is the thinnest of those judged that meets the need; 0 where none does.
func Thinnest(all []Judgement) Gauge {
	for _, j := range all {
		if j.Verdict == Meets {
			return j.Cannula.gauge
		}
	}
	return 0
}

func (n Need) hold(c Cannula, with Conditions) Judgement {
	j := Judgement{Cannula: c}
	if n.Therapy == Contrast {
		j.Lower, j.Upper, j.Err = injected(c.gauge)
	} else {
		var a Answer
		a, j.Err = Through(c, with)
		j.Lower, j.Upper = a.Lower, a.Upper
	}
	switch {
	case j.Err != nil:
	case j.Lower >= n.Flow:
		j.Verdict = Meets
	case j.Upper >= n.Flow:
		j.Verdict = MayMeet
	default:
		j.Verdict = BelowNeed
	}
	return j
}

// spare counts the gauges judged from one to the thinnest that meets, without that.
func spare(all []Judgement, from, fits Gauge) int {
	seen := map[Gauge]bool{}
	for _, j := range all {
		if g := j.Cannula.gauge; from <= g && g < fits {
			seen[g] = true
		}
	}
	return len(seen)
}
