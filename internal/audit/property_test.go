package audit_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

func TestAssess_OrderOfMarksDoesNotMatter(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, true, true)
		at := h.moment("asked")
		want := audit.Assess(book, h.marks, at)
		got := audit.Assess(book, rapid.Permutation(h.marks).Draw(t, "order"), at)
		require.Equal(t, want, got)
	})
}

// A board keeps an assessment until ValidUntil: by then nothing it shows may
// have changed by time alone, but for the minutes overdue.
func TestAssess_StaysTrueUntilItSays(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, true, false)
		at := h.moment("asked")
		marks := h.upTo(at)
		before := audit.Assess(book, marks, at)
		require.Greater(t, before.ValidUntil, at)
		last := min(before.ValidUntil-1, at+5*24*60)
		for _, then := range []line.Minute{last, line.Minute(rapid.Int64Range(int64(at), int64(last)).Draw(t, "then"))} {
			after := audit.Assess(book, marks, then)
			require.Equal(t, shown(before), shown(after), "from %s to %s", at, then)
			require.Equal(t, before.ValidUntil, after.ValidUntil)
		}
	})
}

// shown is what a board shows of an assessment, without minutes overdue.
func shown(a audit.Assessment) string {
	text := ""
	for _, list := range [][]audit.Finding{a.Findings(), a.Answered()} {
		for _, f := range list {
			f.Overdue = 0
			text += fmt.Sprintf("%+v\n", f)
		}
		text += "answered:\n"
	}
	for _, l := range a.History.Lines {
		next, ok := a.Next(l.Key)
		text += fmt.Sprintf("%d next %v %s %s %v %v still in %v\n", l.Key, ok, next.Rule, next.Due, next.Why, next.Do, a.StillIn(l.Key))
	}
	return text
}

// An audit of a past moment does not know what happened after it; that a line
// was found gone is the one exception, and none is here.
func TestAssess_LaterEntriesMeetNothing(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, false, false)
		at := h.moment("asked")
		require.Equal(t, audit.Assess(book, h.upTo(at), at), audit.Assess(book, h.marks, at))
	})
}

// What has fallen due and has ended stays as it ended.
func TestAssess_EndedDutiesStayAsTheyEnded(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, false, false)
		at := h.moment("asked")
		later := audit.Assess(book, h.marks, at+line.Minute(rapid.IntRange(0, 3000).Draw(t, "wait"))).Duties
		for _, d := range audit.Assess(book, h.marks, at).Duties {
			if d.Due < at-24*60 && d.Ended < at {
				require.Contains(t, later, d)
			}
		}
	})
}

// Each duty is what it says it is.
func TestAssess_DutiesAreWellFormed(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, true, true)
		a := audit.Assess(book, h.marks, h.moment("asked"))
		seen := map[string]bool{}
		for _, d := range a.Duties {
			require.LessOrEqual(t, d.Opens, d.Due, "%+v", d)
			require.Equal(t, d.How == audit.Pending || d.How == audit.Open, d.Ended == line.Far && d.How != audit.Missed && d.How != audit.Accepted, "%+v", d)
			require.Equal(t, d.Ended == line.Far, d.Why.Key != "", "%+v", d)
			require.True(t, d.Ended == line.Far || d.Ended <= a.At, "%+v", d)
			switch d.How {
			case audit.Pending:
				require.Greater(t, d.Due, a.At)
			case audit.MetInTime:
				require.True(t, d.Ended < d.Due || d.Allowance == 0 || d.Rule == audit.ReviewOverdue || d.Rule == audit.WatchAfterRemoval, "%+v", d)
			default:
				require.LessOrEqual(t, d.Due, a.At)
				require.GreaterOrEqual(t, d.Ended, d.Due)
			}
		}
		for _, f := range append(a.Findings(), a.Answered()...) {
			key := fmt.Sprint(f.Rule, f.Line)
			require.False(t, seen[key], "two findings of %s", key)
			seen[key] = true
			require.LessOrEqual(t, f.Since, a.At)
			require.LessOrEqual(t, f.Overdue, a.At.Sub(f.Since))
		}
	})
}

// Whatever the marks, there is an assessment.
func TestAssess_IsTotal(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	rapid.Check(t, func(t *rapid.T) {
		h := &history{t: t, start: line.MinuteOf(starts[0])}
		for range rapid.IntRange(0, 20).Draw(t, "marks") {
			h.add(line.Mark{
				Kind: pick(t, "kind", line.Kind(0).All()...), At: h.moment("at"), Line: pick(t, "line", line.Key(0), 101, 102),
				Ward: pick(t, "ward", line.Key(0), wardA, wardC), Until: line.Minute(rapid.Int64Range(-10, 40_000_000).Draw(t, "until")),
				Precision: pick(t, "precision", line.Precision(0).All()...),
				Detail: line.Detail{
					Outcome: pick(t, "outcome", 0, line.WithLine, line.WithoutLine), Needed: pick(t, "needed", 0, line.Yes, line.No),
					Flags: line.Flags(rapid.Uint8().Draw(t, "flags")), RuleTag: pick(t, "tag", 0, audit.ReviewOverdue.Tag()),
					Reason: pick(t, "reason", line.Reason(0).All()...), Score: int8(rapid.IntRange(-1, 5).Draw(t, "score")),
					Limb: line.Limb(rapid.IntRange(0, 4).Draw(t, "limb")), Watch: line.Watch(rapid.IntRange(0, 3).Draw(t, "watch")),
					Signs: line.Signs(rapid.IntRange(0, 1<<12-1).Draw(t, "signs")), States: line.States(rapid.IntRange(0, 31).Draw(t, "states")),
				},
			})
		}
		a := audit.Assess(book, h.marks, h.moment("asked"))
		for _, f := range a.Findings() {
			require.NotEmpty(t, f.Rule)
		}
	})
}

// Once a line is known to have been found gone, nothing is due on it after its
// last look, whichever moment is asked about.
func TestAssess_NothingIsDueOfALineFoundGone(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, true, true)
		whole := line.Fold(h.marks)
		at := h.moment("asked")
		a := audit.Assess(book, h.marks, at)
		for _, l := range whole.Lines {
			if !l.Gone() || l.Placed > at {
				continue
			}
			require.Equal(t, l.Out, a.History.LineOf(l.Key).Out)
			for _, d := range a.Duties {
				require.False(t, d.Line == l.Key && d.Due > l.Out, "%+v", d)
			}
			for _, f := range append(a.Findings(), a.Answered()...) {
				require.False(t, f.Line == l.Key && f.IsDuty && at >= l.Out, "%+v", f)
			}
		}
	})
}
