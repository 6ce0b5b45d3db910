package outcomes_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

// BenchmarkFollow works out survival, causes, rates and the log-rank test of a
// million lines at six sites. Aim: under 2 s.
func BenchmarkFollow(b *testing.B) {
	random := rand.New(rand.NewPCG(1, 2))
	const minutes = 365 * 24 * 60
	courses := make([]line.Course, 1_000_000)
	for i := range courses {
		placed := line.Minute(random.IntN(minutes))
		c := lay(placed, placed+1+line.Minute(random.ExpFloat64()*48*60), line.Reason(1+random.IntN(len(outcomes.Ends)-1)))
		c.Line, c.Site = line.Key(i+1), line.Site(1+random.IntN(6))
		courses[i] = c
	}
	q := outcomes.Asked{Period: line.Stretch{Until: minutes}, By: outcomes.BySite}
	b.ReportAllocs()
	for b.Loop() {
		c, err := outcomes.Follow(courses, q, outcomes.Names{})
		require.NoError(b, err)
		require.Len(b, c.Groups, 6)
	}
}
