package audit_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// The visual infusion phlebitis score (Jackson 1998), as reproduced in the
// sources named in the policy, signs in our own words: 0 healthy; 1 slight
// pain or redness; 2 two of pain, redness, swelling; 3 pain, redness and
// induration; 4 the same and a cord; 5 the same and fever. What the table
// leaves open is the definitions': pus or a cord counts at least 2, and any one
// of pain, redness, swelling, induration 1.
func TestHazard08_PhlebitisIsActedOnByTheScoreTable(t *testing.T) {
	t.Parallel()
	tests := []struct {
		signs []line.Sign
		score int
	}{
		{nil, 0},
		{[]line.Sign{line.Pain}, 1},
		{[]line.Sign{line.Redness}, 1},
		{[]line.Sign{line.Swelling}, 1},
		{[]line.Sign{line.Induration}, 1},
		{[]line.Sign{line.Fever}, 0},
		{[]line.Sign{line.Resistance, line.PainReported}, 0},
		{[]line.Sign{line.Pain, line.Redness}, 2},
		{[]line.Sign{line.Pain, line.Swelling}, 2},
		{[]line.Sign{line.Redness, line.Swelling}, 2},
		{[]line.Sign{line.Pain, line.Redness, line.Swelling}, 2},
		{[]line.Sign{line.Pain, line.Induration}, 1},
		{[]line.Sign{line.Cord}, 2},
		{[]line.Sign{line.Pus}, 2},
		{[]line.Sign{line.Pain, line.Redness, line.Induration}, 3},
		{[]line.Sign{line.Pain, line.Redness, line.Induration, line.Fever}, 3},
		{[]line.Sign{line.Pain, line.Redness, line.Induration, line.Cord}, 4},
		{[]line.Sign{line.Pain, line.Redness, line.Induration, line.Cord, line.Fever}, 5},
		{[]line.Sign{line.Pain, line.Redness, line.Cord, line.Fever}, 2},
	}
	book, start := generatedBook(), line.MinuteOf(starts[2])
	for _, tt := range tests {
		signs := line.SetOf(tt.signs...)
		require.Equal(t, tt.score, line.ScoreOf(signs), "%v", tt.signs)
		h := history{}
		h.add(line.Mark{Kind: line.KindAdmission, At: start, Ward: wardA})
		h.add(line.Mark{Kind: line.KindOccasion, Line: 101, At: start, Detail: line.Detail{Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20}})
		h.add(line.Mark{Kind: line.KindReview, Line: 101, At: start + 60, Detail: line.Detail{Signs: signs, Score: int8(line.ScoreOf(signs)), Flags: line.ScoreFromSigns}})
		found := false
		for _, f := range audit.Assess(book, h.marks, start+120).Findings() {
			found = found || f.Rule == audit.ActOnPhlebitis
		}
		require.Equal(t, tt.score >= 2, found, "%v", tt.signs)
	}
}
