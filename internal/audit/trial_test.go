package audit_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// However the patients are shared among trials, the whole is the same.
func TestTrialMerge_IsTheTrialOfAll(t *testing.T) {
	t.Parallel()
	start := line.MinuteOf(starts[2])
	book := generatedBook()
	other, err := audit.ParsePolicy("other", []byte("[review-overdue]\ngrace = \"0m\"\nevery = \"5h\"\n[idle-line]\nafter = \"6h\"\n"))
	require.NoError(t, err)
	trial := book.WithPolicy(other)
	period := line.Stretch{From: start, Until: start + 10*24*60}
	add := func(to *audit.Trial, patient line.Key) {
		marks := fourDays(patient, start+line.Minute(patient*97))
		before, after := audit.Assess(book, marks, period.Until), audit.Assess(trial, marks, period.Until)
		to.Add(&before, &after)
	}
	rapid.Check(t, func(t *rapid.T) {
		whole, parts := audit.NewTrial(period), []*audit.Trial{audit.NewTrial(period), audit.NewTrial(period), audit.NewTrial(period)}
		for patient := range line.Key(rapid.IntRange(1, 12).Draw(t, "patients")) {
			add(whole, patient+1)
			add(parts[rapid.IntRange(0, 2).Draw(t, "part")], patient+1)
		}
		merged := audit.NewTrial(period)
		for _, i := range rapid.Permutation([]int{0, 1, 2}).Draw(t, "order") {
			merged.Merge(parts[i])
		}
		require.Equal(t, whole.Changes(), merged.Changes())
		require.NotEmpty(t, whole.Changes())
	})
}
