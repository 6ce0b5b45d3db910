package web

import (
	"math"
	"net/url"
	"slices"
	"strconv"

	"dwellbook/internal/line"
)

// mostLimbs is how many limbs to spare one form can hold.
const mostLimbs = 8

func readFacts(r *reader, _ *occurrence) line.Body {
	b := factsOf(r)
	if b.Group == 0 && b.Limits == nil && b.Watches == nil && b.Need == nil {
		r.wrong("group", "act.nothing-said")
	}
	return b
}

// factsOf reads what holds of the patient, also from the form of an admission.
func factsOf(r *reader) line.Facts {
	b := line.Facts{Group: parsed0(r, "group", line.Adult)}
	was, _ := r.old().(line.Facts)
	for i := range mostLimbs {
		n := "-" + strconv.Itoa(i)
		if r.get("limb"+n) == "" && r.get("limb-why"+n) == "" {
			continue
		}
		l := line.Limit{
			Limb: parsed1(r, "limb"+n, line.LeftArm), Why: parsed1(r, "limb-why"+n, line.Fistula), Lifted: r.get("limb-lifted"+n) != "",
		}
		if i < len(was.Limits) {
			l.Until = r.end("limb-hours"+n, 240, was.Limits[i].Until)
		}
		b.Limits = append(b.Limits, l)
	}
	b.Watches = watches(r, was.Watches)
	b.Need = r.need()
	return b
}

// need reads the flow that is needed, and what for; nil where it is not said.
func (r *reader) need() *line.Need {
	why := parsed0(r, "need_for", line.ForFluids)
	hourly := int(math.Round(float64(r.flowNeeded("need", "need_unit")) * 60))
	switch {
	case hourly > 0:
		return &line.Need{MillilitresPerHour: hourly, For: why}
	case why != 0 || r.get("need") != "":
		r.wrong("need", "act.number", "least", 1, "most", line.MostNeeded)
	}
	return nil
}

// watches are the closer watches that start and that end, those of before
// first and with the end they had.
func watches(r *reader, was []line.Vigil) []line.Vigil {
	var all []line.Vigil
	for _, name := range []string{"watch", "watch-ended"} {
		for why := range ticked(r, name, line.WatchChild).Codes() {
			all = append(all, line.Vigil{Why: why, Lifted: name == "watch-ended"})
		}
	}
	same := func(a line.Vigil) func(line.Vigil) bool {
		return func(b line.Vigil) bool { return a.Why == b.Why && a.Lifted == b.Lifted }
	}
	var kept []line.Vigil
	for _, w := range was {
		if slices.ContainsFunc(all, same(w)) {
			kept = append(kept, w)
		}
	}
	for _, w := range all {
		if !slices.ContainsFunc(kept, same(w)) {
			kept = append(kept, w)
		}
	}
	return kept
}

func fillFacts(e line.Entry, v url.Values) {
	b, _ := e.Body.(line.Facts)
	v.Set("group", b.Group.String())
	for i, l := range b.Limits {
		n := "-" + strconv.Itoa(i)
		v.Set("limb"+n, l.Limb.String())
		v.Set("limb-why"+n, l.Why.String())
		if l.Lifted {
			v.Set("limb-lifted"+n, "yes")
		}
		if l.Until != 0 {
			v.Set("limb-hours"+n, strconv.Itoa(hours(e.Happened, l.Until)))
		}
	}
	for _, w := range b.Watches {
		name := "watch"
		if w.Lifted {
			name = "watch-ended"
		}
		v.Add(name, w.Why.String())
	}
	if b.Need != nil {
		v.Set("need", strconv.Itoa(b.Need.MillilitresPerHour))
		v.Set("need_for", b.Need.For.String())
	}
}
