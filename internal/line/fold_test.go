package line_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
)

// numbered gives ids their keys: the figures in them.
type numbered struct{}

func key(id line.ID) line.Key {
	n := 0
	for _, c := range id {
		if c >= '0' && c <= '9' {
			n = n*10 + int(c-'0')
		}
	}
	return line.Key(n)
}

func (numbered) SubjectKey(id line.ID) line.Key { return key(id) }
func (numbered) LineKey(id line.ID) line.Key    { return key(id) }
func (numbered) WardKey(id line.ID) line.Key    { return key(id) }

// story is a patient's entries, each at a minute, in the order recorded.
type story struct{ marks []line.Mark }

func (s *story) add(at line.Minute, body line.Body, change ...func(*line.Entry)) *story {
	e := of(body)
	e.Happened = at
	for _, c := range change {
		c(&e)
	}
	seq := int64(len(s.marks) + 1)
	s.marks = append(s.marks, line.Marks(e, numbered{}, seq, seq)...)
	return s
}

func ofLine(id line.ID) func(*line.Entry)      { return func(e *line.Entry) { e.Line = id } }
func toThe(p line.Precision) func(*line.Entry) { return func(e *line.Entry) { e.Precision = p } }
func (s *story) fold() line.Subject            { return line.Fold(s.marks) }
func whys(s line.Subject) []line.Why           { return reasons(s.Conflicts) }

func reasons(conflicts []line.Conflict) (all []line.Why) {
	for _, c := range conflicts {
		all = append(all, c.Why)
	}
	return all
}

func moments(marks []line.Mark) (all []line.Minute) {
	for _, m := range marks {
		all = append(all, m.At)
	}
	return all
}

func TestFold_OneLineFromPlacementToRemoval(t *testing.T) {
	t.Parallel()
	h := new(story).add(90, line.Admission{Ward: "w7"}).add(100, placed).add(200, line.Review{}).add(300, line.Dressing{Material: line.Gauze}).
		add(400, line.NotSeen{Why: line.OffWard}).add(500, line.Removal{Reason: line.Leak}).add(600, line.SiteCheck{}).
		add(700, line.InfectionOutcome{Outcome: line.InfectionNotConfirmed}).fold()
	require.Empty(t, h.Conflicts)
	require.Len(t, h.Lines, 1)
	l := h.Lines[0]
	require.Equal(t, line.Minute(100), l.Placed)
	require.Equal(t, line.Minute(500), l.Out)
	require.Equal(t, line.Leak, l.Removal.Reason)
	require.Equal(t, []line.Minute{200}, moments(l.Reviews))
	require.Equal(t, []line.Minute{300}, moments(l.Dressings))
	require.Equal(t, []line.Minute{400}, moments(l.NotSeen))
	require.Equal(t, []line.Minute{600}, moments(l.Checks))
	require.Equal(t, []line.Minute{100, 200, 300, 400, 500, 600, 700}, l.Touched)
	require.False(t, l.InSitu(99))
	require.True(t, l.InSitu(100))
	require.True(t, l.InSitu(499))
	require.False(t, l.InSitu(500), "a stretch does not hold its end")
	require.Equal(t, l, h.LineOf(1))
	require.Nil(t, h.LineOf(2))
}

func TestFold_WhatCannotBeTrueChangesNothing(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		story *story
		want  line.Why
	}{
		{"a review before placement", new(story).add(100, placed).add(99, line.Review{}), line.BeforePlacement},
		{"in the minute of placement, recorded before it", new(story).add(100, line.Review{}).add(100, placed), line.BeforePlacement},
		{"a removal before placement", new(story).add(100, placed).add(50, line.Removal{Reason: line.Leak}), line.BeforePlacement},
		{"a site-check while it is in", new(story).add(100, placed).add(200, line.SiteCheck{}), line.BeforeRemoval},
		{"a review of no known line", new(story).add(100, placed).add(200, line.Review{}, ofLine("l2")), line.UnknownLine},
		{"a removal of an occasion without a line", new(story).add(100, placed).
			add(150, line.Occasion{Outcome: line.WithoutLine}, ofLine("l2")).add(200, line.Removal{Reason: line.Leak}, ofLine("l2")), line.UnknownLine},
		{"what an infection came to, before the line was placed", new(story).add(100, placed).add(50, line.InfectionOutcome{Outcome: line.InfectionConfirmed}), line.BeforePlacement},
		{"a line left in that is not known", new(story).add(100, placed).add(200, line.Discharge{LeftIn: []line.ID{"l2"}}), line.UnknownLine},
		{"a second placement", new(story).add(100, placed).add(90, placed), line.SecondPlacement},
	} {
		h := c.story.fold()
		require.Equal(t, []line.Why{c.want}, whys(h), c.name)
		require.Len(t, h.Lines, 1, c.name)
		require.Equal(t, line.Minute(100), h.Lines[0].Placed, c.name)
		require.Equal(t, line.Far, h.Lines[0].Out, c.name)
		require.Empty(t, h.Lines[0].Reviews, c.name)
	}
	out := func() *story { return new(story).add(100, placed).add(200, line.Removal{Reason: line.Leak}) }
	for _, c := range []struct {
		name  string
		story *story
		want  line.Why
	}{
		{"a review after removal", out().add(201, line.Review{}), line.AfterRemoval},
		{"a review in the minute of removal, recorded after it", out().add(200, line.Review{}), line.AfterRemoval},
		{"a dressing after removal", out().add(300, line.Dressing{}), line.AfterRemoval},
		{"a second removal", out().add(300, line.Removal{Reason: line.Routine}), line.SecondRemoval},
	} {
		h := c.story.fold()
		require.Equal(t, []line.Why{c.want}, whys(h), c.name)
		require.Equal(t, line.Minute(200), h.Lines[0].Out, c.name)
		require.Equal(t, line.Leak, h.Lines[0].Removal.Reason, c.name)
	}
}

func TestFold_EntriesOfOneMinuteInTheOrderRecorded(t *testing.T) {
	t.Parallel()
	h := new(story).add(100, placed).add(100, line.Review{}).add(100, line.Removal{Reason: line.Leak}).add(100, line.SiteCheck{}).fold()
	require.Empty(t, h.Conflicts)
	require.Equal(t, line.Minute(100), h.Lines[0].Out)
	require.False(t, h.Lines[0].InSitu(100))
}

func TestFold_ADateOnlyIsTheDaysStartButNotBeforeThePlacement(t *testing.T) {
	t.Parallel()
	h := new(story).add(0, line.Review{}, toThe(line.ToDay)).add(100, placed).add(0, line.Dressing{}, toThe(line.ToDay)).
		add(0, line.Removal{Reason: line.Routine}, toThe(line.ToDay)).fold()
	require.Empty(t, h.Conflicts)
	require.Equal(t, []line.Minute{100}, moments(h.Lines[0].Reviews))
	require.Equal(t, line.Minute(100), h.Lines[0].Out)

	minute := new(story).add(100, placed).add(0, line.Review{}).fold()
	require.Equal(t, []line.Why{line.BeforePlacement}, whys(minute), "a minute is not moved")
	day := new(story).add(100, placed, toThe(line.ToDay)).add(300, line.Review{}, toThe(line.ToDay)).fold()
	require.Equal(t, line.Minute(100), day.Lines[0].Placed)
	require.Equal(t, []line.Minute{300}, moments(day.Lines[0].Reviews))
}

func TestFold_FoundGoneWasSurelyInAtTheLastLook(t *testing.T) {
	t.Parallel()
	gone := line.Removal{Reason: line.FoundGone}
	h := new(story).add(100, placed).add(200, line.Review{}).add(300, line.Dressing{}).add(400, gone).fold()
	require.True(t, h.Lines[0].Gone())
	require.Equal(t, line.Minute(200), h.Lines[0].Out, "a dressing change is no look")
	require.Equal(t, line.Minute(400), h.Lines[0].Removal.At)
	require.Equal(t, line.Minute(100), new(story).add(100, placed).add(400, gone).fold().Lines[0].Out)
	require.Equal(t, line.Minute(400), new(story).add(100, placed).add(400, line.Review{}).add(400, gone).fold().Lines[0].Out)
}

func TestFold_WhereThePatientWas(t *testing.T) {
	t.Parallel()
	h := new(story).add(100, line.Admission{Ward: "w1"}).add(200, line.Transfer{Ward: "w2"}).add(300, line.Discharge{}).
		add(400, line.Admission{Ward: "w3"}).fold()
	require.Equal(t, []line.Stay{
		{Ward: 1, Stretch: line.Stretch{From: 100, Until: 200}}, {Ward: 2, Stretch: line.Stretch{From: 200, Until: 300}},
		{Ward: 3, Stretch: line.Stretch{From: 400, Until: line.Far}},
	}, h.Stays)
	for at, want := range map[line.Minute][2]line.Key{99: {0, 0}, 100: {1, 1}, 199: {1, 1}, 200: {2, 2}, 300: {0, 2}, 399: {0, 2}, 400: {3, 3}} {
		require.Equal(t, want, [2]line.Key{h.WardAt(at), h.LastWardAt(at)}, "at %d", at)
	}
	require.Equal(t, []line.Minute{300}, moments(h.Discharges))

	twice := new(story).add(100, line.Admission{Ward: "w1"}).add(100, line.Transfer{Ward: "w2"}).fold()
	require.Equal(t, []line.Stay{{Ward: 2, Stretch: line.Stretch{From: 100, Until: line.Far}}}, twice.Stays, "a stay of no length is none")
	require.Empty(t, new(story).add(100, line.Discharge{}).fold().Stays)
}

func TestFold_DischargeNamesTheLinesLeftIn(t *testing.T) {
	t.Parallel()
	h := new(story).add(90, line.Admission{Ward: "w1"}).add(100, placed).add(110, placed, ofLine("l2")).
		add(300, line.Discharge{LeftIn: []line.ID{"l2"}}).fold()
	require.Empty(t, h.Conflicts)
	require.Len(t, h.Discharges, 1)
	require.Empty(t, h.LineOf(1).LeftIn)
	require.Equal(t, []line.Minute{300}, moments(h.LineOf(2).LeftIn))
	require.Equal(t, line.Far, h.LineOf(2).Out)
}

func TestFold_NotSeenOfThePatientIsOfEveryLineThenIn(t *testing.T) {
	t.Parallel()
	h := new(story).add(100, placed).add(100, placed, ofLine("l2")).add(200, line.Removal{Reason: line.Leak}).
		add(300, line.NotSeen{Why: line.OffWard}, ofLine("")).add(400, placed, ofLine("l3")).fold()
	require.Empty(t, h.LineOf(1).NotSeen)
	require.Equal(t, []line.Minute{300}, moments(h.LineOf(2).NotSeen))
	require.Equal(t, []line.Minute{100, 300}, h.LineOf(2).Touched)
	require.Empty(t, h.LineOf(3).NotSeen)
}

func TestFold_FactsHoldFromTheirMinuteUntilTheyEnd(t *testing.T) {
	t.Parallel()
	arm := line.Limit{Limb: line.LeftArm, Why: line.Fistula}
	other := line.Limit{Limb: line.LeftArm, Why: line.DVT, Until: 900}
	lifted := line.Limit{Limb: line.LeftArm, Why: line.Fistula, Lifted: true}
	h := new(story).add(100, line.Facts{Group: line.Child, Limits: []line.Limit{arm, other}, Watches: []line.Vigil{{Why: line.WatchChild}}}).
		add(500, line.Facts{Limits: []line.Limit{lifted}, Watches: []line.Vigil{{Why: line.WatchChild, Lifted: true}}}).
		add(600, line.Facts{Group: line.Adult, Need: &line.Need{MillilitresPerHour: 250, For: line.ForFluids}}).fold()
	require.Equal(t, []line.Limited{
		{Limb: line.LeftArm, Why: line.Fistula, Stretch: line.Stretch{From: 100, Until: 500}},
		{Limb: line.LeftArm, Why: line.DVT, Stretch: line.Stretch{From: 100, Until: 900}},
	}, h.Limits)
	require.Equal(t, []line.Watched{{Why: line.WatchChild, Stretch: line.Stretch{From: 100, Until: 500}}}, h.Watches)
	for at, want := range map[line.Minute]line.Group{99: line.Adult, 100: line.Child, 599: line.Child, 600: line.Adult} {
		require.Equal(t, want, h.GroupAt(at), "adult unless said, at %d", at)
	}
	require.Len(t, h.Needs, 1)
	require.Equal(t, uint16(250), h.Needs[0].NeedML)
}

// anyMark is any mark a list could hold, sense or none.
var anyMark = rapid.Custom(func(t *rapid.T) line.Mark {
	some := func(name string, most int) uint8 { return uint8(rapid.IntRange(0, most).Draw(t, name)) }
	return line.Mark{
		Subject: 1, Line: line.Key(some("line", 3)), At: line.Minute(some("at", 12)), Kind: line.Kind(some("kind", 21)),
		Part: int(some("part", 1)), Precision: line.Precision(some("precision", 3)), Ward: line.Key(some("ward", 2)), Until: line.Minute(some("until", 14)),
		Detail: line.Detail{
			Outcome: line.Outcome(some("outcome", 3)), Reason: line.Reason(some("reason", 14)), Limb: line.Limb(some("limb", 2)),
			Restriction: line.Restriction(some("restriction", 2)), Watch: line.Watch(some("watch", 2)), Group: line.Group(some("group", 2)),
			NeedML: uint16(some("need", 1)), Flags: line.Flags(some("flags", 31)),
		},
	}
})

// Fold is total: on any list it gives a history, and every mark about a line
// stands in that history or among the conflicts, once.
func TestFold_LosesNoMark(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		marks := rapid.SliceOfN(anyMark, 0, 14).Draw(t, "marks")
		for i := range marks {
			marks[i].Seq, marks[i].Known = int64(i+1), int64(i+1)
		}
		before := append([]line.Mark{}, marks...)
		h := line.Fold(marks)
		require.Equal(t, before, marks, "what was given is not changed")

		found := map[int64]int{}
		note := func(marks ...line.Mark) {
			for _, m := range marks {
				found[m.Seq]++
			}
		}
		for _, c := range h.Conflicts {
			note(c.Mark)
			require.NotZero(t, c.Why)
		}
		note(h.Occasions...)
		for _, l := range h.Lines {
			note(l.Reviews...)
			note(l.Dressings...)
			note(l.Checks...)
			note(l.LeftIn...)
			for _, m := range l.NotSeen {
				if m.Line != 0 {
					note(m)
				}
			}
			if l.Removal != nil {
				note(*l.Removal)
			}
		}
		for _, m := range marks {
			switch m.Kind {
			case line.KindOccasion, line.KindReview, line.KindDressing, line.KindRemoval, line.KindSiteCheck:
				require.Equal(t, 1, found[m.Seq], "%+v", m)
			case line.KindNotSeen:
				require.Equal(t, m.Line != 0, found[m.Seq] == 1, "%+v", m)
			}
		}
		soundHistory(t, h)
	})
}

// soundHistory checks what holds of any history.
func soundHistory(t *rapid.T, h line.Subject) {
	for i, s := range h.Stays {
		require.Less(t, s.From, s.Until)
		require.True(t, i == 0 || h.Stays[i-1].Until <= s.From, "stays do not overlap")
	}
	for i, l := range h.Lines {
		require.LessOrEqual(t, l.Placed, l.Out)
		require.True(t, i == 0 || h.Lines[i-1].Placed <= l.Placed)
		require.Equal(t, l.Removal == nil, l.Out == line.Far)
		for j, r := range l.Reviews {
			require.GreaterOrEqual(t, r.At, l.Placed)
			require.LessOrEqual(t, r.At, l.Out)
			require.True(t, j == 0 || l.Reviews[j-1].At <= r.At)
		}
		for _, c := range l.Checks {
			require.GreaterOrEqual(t, c.At, l.Out)
		}
		require.IsNonDecreasing(t, l.Touched)
	}
}

// The order in which the marks are given makes no difference.
func TestFold_AnyOrderGivesTheSameHistory(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		marks := rapid.SliceOfN(anyMark, 0, 10).Draw(t, "marks")
		for i := range marks {
			marks[i].Seq = int64(i + 1)
		}
		want := line.Fold(marks)
		got := line.Fold(rapid.Permutation(marks).Draw(t, "order"))
		require.Equal(t, want, got)
	})
}
