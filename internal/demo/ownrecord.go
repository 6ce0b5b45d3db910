package demo

import (
	"fmt"
	"math/rand/v2"
	"time"

	"dwellbook/internal/line"
)

// learning adds what people's own records are made of: how hard veins were,
// who stood by, and what people said of attempts that others recorded. It
// draws for itself, so that the rest of the hospital is the same without it.
type learning struct {
	*hospital
	rng *rand.Rand
}

func (h *hospital) learning() learning {
	return learning{h, rand.New(rand.NewPCG(h.Seed, 0x7e1a_11f5))} // #nosec G404 -- what is invented must come out the same from its number
}

func (l learning) chance(p float64) bool { return l.rng.Float64() < p }

// tick says of most attempts what the vein was like, and has somebody stand by
// the trainee, less and less often.
func (l learning) tick() {
	trainee, guides := l.doctors[0].ID, l.doctors[1:3]
	for i := range l.out.Entries {
		e := &l.out.Entries[i]
		o, ok := e.Body.(line.Occasion)
		if !ok || len(o.Attempts) == 0 {
			continue
		}
		if l.chance(0.85) {
			before, expected := l.chance(0.1), l.chance(0.12)
			for n := range o.Attempts {
				expected = expected || n > 0 && l.chance(0.6) // it has failed once
				o.Attempts[n].Difficulty = l.vein(o.Attempts[n].Failed, before, expected)
			}
		}
		if o.Attempts[0].Operator.Account == trainee && l.chance(0.95-0.9*l.progress(e.Happened)) {
			o.Supervisor = line.Operator{Account: guides[l.rng.IntN(len(guides))].ID}
			if l.chance(0.1) {
				o.Supervisor = line.Operator{Written: "on-call reg"}
			}
		}
		e.Body = o
	}
}

// vein is what was ticked: of attempts that failed, more.
func (l learning) vein(failed, before, expected bool) line.Difficulties {
	more := 1.0
	if failed {
		more = 2.2
	}
	var ticks line.Difficulties
	for _, d := range []struct {
		of line.Difficulty
		is bool
	}{
		{line.VeinNotVisible, l.chance(0.2 * more)}, {line.VeinNotPalpable, l.chance(0.1 * more)}, {line.VeinSmall, l.chance(0.15 * more)},
		{line.DifficultBefore, before}, {line.DifficultyExpected, expected},
	} {
		if d.is {
			ticks = ticks.With(d.of)
		}
	}
	if ticks == 0 {
		return line.SetOf(line.NotDifficult)
	}
	return ticks
}

// answer has people say, hours later, whether what others recorded as theirs
// was. The latest wait, longest those of the trainee.
func (l learning) answer() {
	for _, e := range l.out.Entries {
		o, ok := e.Body.(line.Occasion)
		if c, corrected := e.Body.(line.Correction); corrected {
			o, ok = c.Replacement.Body.(line.Occasion)
		}
		if !ok {
			continue
		}
		asked := map[line.ID]bool{e.Author: true}
		for _, a := range o.Attempts {
			if who := a.Operator.Account; who != "" && !asked[who] {
				asked[who] = true
				l.say(e, who)
			}
		}
	}
}

func (l learning) say(e line.Entry, who line.ID) {
	waits := 3 * 24 * time.Hour
	if who == l.doctors[0].ID {
		waits = 30 * 24 * time.Hour
	}
	at := e.Recorded.Add(time.Duration(2+l.rng.IntN(40)) * time.Hour)
	id := line.ID(fmt.Sprintf("%016x%016x", l.rng.Uint64(), l.rng.Uint64()))
	if at.Add(waits).After(l.Now) {
		return
	}
	body := line.AttemptAgreement{Account: who, Version: e.ID, Agreed: line.Yes}
	if l.chance(0.03) {
		body.Agreed = line.No // somebody else of that name, or another day
	}
	l.out.Entries = append(l.out.Entries, line.Entry{
		Version: line.FormatVersion, ID: id, Kind: body.Kind(), Author: who, Happened: line.MinuteOf(at), Precision: line.ToMinute,
		Recorded: at, Body: body,
	})
}
