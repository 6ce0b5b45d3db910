package demo_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
	"dwellbook/internal/demo"
	"dwellbook/internal/line"
)

// Most of the hospital is looked after well: a lead finds a dozen things to
// act on, not hundreds, whatever the time of day.
func TestGenerate_LeavesALeadSomethingToFind(t *testing.T) {
	t.Parallel()
	for _, o := range cases(t) {
		t.Run(name(o), func(t *testing.T) {
			t.Parallel()
			w := read(t, o)
			found, stillIn, due := map[line.Rule]int{}, map[line.Key]bool{}, 0
			answered, dueThisShift := 0, 0
			for _, a := range w.assess(w.now) {
				for _, f := range a.Findings() {
					switch {
					case f.StillIn:
						stillIn[f.Line] = true
					default:
						found[f.Rule]++
						if f.Severity != audit.Advise {
							due++
						}
					}
				}
				answered += len(a.Answered())
				for _, l := range a.History.Lines {
					if d, ok := a.Next(l.Key); ok && d.Rule == audit.ReviewOverdue && d.Due.Sub(w.now).Hours() < 14 {
						dueThisShift++
					}
				}
			}
			require.GreaterOrEqual(t, due, 7, "%v", found)
			require.LessOrEqual(t, due, 30, "%v", found)
			require.Len(t, stillIn, 2, "lines that nobody recorded out")
			require.Positive(t, answered)
			require.GreaterOrEqual(t, dueThisShift, 5)
			require.Zero(t, found[audit.RecordConflict])
			for _, rule := range []line.Rule{
				audit.ActOnPhlebitis, audit.ReviewOverdue, audit.DressingOverdue, audit.RecordIncomplete, audit.IdleLine,
				audit.SmallGaugeInElbowCrease, audit.AcrossJoint, audit.LowerLimbInAdult,
			} {
				require.Positive(t, found[rule], "%s", rule)
			}
		})
	}
}

func TestGenerate_HasANightThatSkipsLooksAndAWardWithOldDressings(t *testing.T) {
	t.Parallel()
	w := read(t, cases(t)[0])
	nights, nightsMissed := map[line.Key]int{}, map[line.Key]int{}
	dressings := map[line.Key]int{}
	for _, a := range w.assess(w.now) {
		for _, d := range a.Duties {
			if d.How == audit.Pending || d.Due > w.now {
				continue
			}
			late := d.How == audit.Missed || d.How == audit.MetLate || d.How == audit.Open
			hour := d.Due.Time().Hour()
			switch {
			case d.Rule == audit.ReviewOverdue && hour >= 4 && hour < 10: // the end of the night, in UTC
				nights[d.Ward]++
				if late {
					nightsMissed[d.Ward]++
				}
			case d.Rule == audit.DressingOverdue && late:
				dressings[d.Ward]++
			}
		}
	}
	for _, other := range []string{"Alder", "Cedar", "Willow"} {
		there, here := w.ward[other], w.ward["Birch"]
		require.Greater(t, nightsMissed[here]*nights[there], 4*nightsMissed[there]*nights[here], "nights missed in Birch and %s", other)
	}
	for _, other := range []string{"Alder", "Birch", "Hazel", "Rowan", "Willow"} {
		require.Greater(t, dressings[w.ward["Cedar"]], 3*dressings[w.ward[other]], "late dressings in Cedar and %s", other)
	}
}

func TestGenerate_HasATraineeWhoImproves(t *testing.T) {
	t.Parallel()
	for _, o := range cases(t) {
		h, err := demo.Generate(o)
		require.NoError(t, err)
		var trainee line.ID
		for _, p := range h.Staff {
			if p.SignIn == "doctor1" {
				trainee = p.ID
			}
		}
		var firsts []bool
		for _, e := range h.Entries {
			if b, ok := e.Body.(line.Occasion); ok && len(b.Attempts) > 0 && b.Attempts[0].Operator.Account == trainee {
				firsts = append(firsts, !b.Attempts[0].Failed)
			}
		}
		share := func(of []bool) float64 {
			n := 0.0
			for _, ok := range of {
				if ok {
					n++
				}
			}
			return n / float64(len(of))
		}
		third := len(firsts) / 3
		require.Greater(t, third, 30, name(o))
		require.Greater(t, share(firsts[2*third:]), share(firsts[:third]), name(o))
	}
}

// Attempts that failed were at harder veins, the trainee is watched less and
// less, and some of what others recorded still waits for the trainee.
func TestGenerate_GivesOwnRecordsSomethingToShow(t *testing.T) {
	t.Parallel()
	for _, o := range cases(t) {
		h, err := demo.Generate(o)
		require.NoError(t, err)
		var trainee line.ID
		for _, p := range h.Staff {
			if p.SignIn == "doctor1" {
				trainee = p.ID
			}
		}
		half := line.MinuteOf(o.Now.Add(-45 * 24 * time.Hour))
		hard, asked, supervised := map[bool]int{}, map[bool]int{}, map[bool]int{}
		waiting, agreed := map[line.ID]bool{}, 0
		for _, e := range h.Entries {
			switch b := e.Body.(type) {
			case line.Occasion:
				for _, a := range b.Attempts {
					if a.Difficulty != 0 {
						asked[a.Failed]++
						if a.Difficulty != line.SetOf(line.NotDifficult) {
							hard[a.Failed]++
						}
					}
					if a.Operator.Account == trainee && e.Author != trainee {
						waiting[e.ID] = true
					}
				}
				if b.Supervisor != (line.Operator{}) {
					require.Equal(t, trainee, b.Attempts[0].Operator.Account, name(o))
					supervised[e.Happened > half]++
				}
			case line.AttemptAgreement:
				delete(waiting, b.Version)
				agreed++
			}
		}
		require.Greater(t, float64(hard[true])/float64(asked[true]), float64(hard[false])/float64(asked[false]), name(o))
		require.Greater(t, supervised[false], supervised[true], name(o))
		require.Positive(t, supervised[true], name(o))
		require.Positive(t, agreed, name(o))
		require.NotEmpty(t, waiting, name(o))
	}
}

// What a screen or an audit can show, the invented hospital has some of.
func TestGenerate_HasSomeOfEverything(t *testing.T) {
	t.Parallel()
	h, err := demo.Generate(cases(t)[0])
	require.NoError(t, err)
	kinds, reasons, outcomes := map[line.Kind]int{}, map[line.Reason]int{}, map[line.Outcome]int{}
	written, later, unknown := 0, 0, 0
	for _, e := range h.Entries {
		kinds[e.Kind]++
		switch b := e.Body.(type) {
		case line.Removal:
			reasons[b.Reason]++
		case line.Occasion:
			outcomes[b.Outcome]++
			if len(b.Attempts) > 0 && b.Attempts[0].Operator.Written != "" {
				written++
			}
			if e.Precision == line.NotKnown {
				unknown++
			}
		}
		if e.Subject != "" && e.Recorded.Sub(e.Happened.Time()).Hours() > 1 {
			later++
		}
	}
	for _, k := range line.Kind(0).All() {
		switch k {
		case line.KindFollowUp, line.KindErasure, line.KindRecordShare: // acts for a person to try
		default:
			require.Positive(t, kinds[k], "%s", k)
		}
	}
	for _, r := range line.Reason(0).All() {
		require.Positive(t, reasons[r], "%s", r)
	}
	for _, o := range line.Outcome(0).All() {
		require.Positive(t, outcomes[o], "%s", o)
	}
	require.Positive(t, written, "operators as written")
	require.Positive(t, later, "entries recorded hours later")
	require.Positive(t, unknown, "placements at a moment not known")
	require.Equal(t, 1, kinds[line.KindVoid])
}

func BenchmarkGenerate(b *testing.B) {
	o := demo.Options{Seed: 1, Now: line.Minute(29_000_000).Time(), Policy: audit.DefaultPolicy().Text()}
	for b.Loop() {
		if _, err := demo.Generate(o); err != nil {
			b.Fatal(err)
		}
	}
}
