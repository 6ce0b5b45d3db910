package outcomes_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
)

// mixed are lines of which the thin ones stand mostly on ward b, and fail no
// sooner there: by ward alone b looks bad.
func mixed() (courses []line.Course) {
	for ward, sizes := range map[line.Key]map[line.Gauge]int{1: {18: 80, 24: 20}, 2: {18: 20, 24: 80}} {
		for gauge, n := range sizes {
			for i := range n {
				hours := 30 + i*100/n
				if gauge == 24 {
					hours /= 2
				}
				c := lay(opens, opens+line.Minute(hours*60+int(ward)), line.Phlebitis)
				c.Ward, c.Gauge = ward, gauge
				courses = append(courses, c)
			}
		}
	}
	return courses
}

func TestAdjust_ComparesLikeWithLike(t *testing.T) {
	t.Parallel()
	alone, err := outcomes.Adjust(mixed(), outcomes.Asked{Period: period}, []outcomes.By{outcomes.ByWard}, wards)
	require.NoError(t, err)
	require.Greater(t, alone.Levels[1].Interval.Lower, 1., "b against a")
	like, err := outcomes.Adjust(mixed(), outcomes.Asked{Period: period}, []outcomes.By{outcomes.ByWard, outcomes.ByGauge}, wards)
	require.NoError(t, err)
	require.Equal(t, 200, like.Lines)
	require.Len(t, like.Levels, 4)
	ward, gauge := like.Levels[1], like.Levels[3]
	require.Equal(t, outcomes.ByWard, ward.By)
	require.InDelta(t, 1, ward.Hazard, 0.1, "size for size the wards are alike")
	require.True(t, ward.Interval.Lower < 1 && 1 < ward.Interval.Upper)
	require.Equal(t, "24", gauge.Name.ID)
	require.Greater(t, gauge.Interval.Lower, 2.)
}

func TestAdjust_LeavesOutLevelsWithTooFewFailures(t *testing.T) {
	t.Parallel()
	courses := mixed()
	few := ended(line.Forearm, line.Leak, stats.EventsPerCovariate-1, 20, 1)
	for i := range few {
		few[i].Ward = 3
	}
	atOnce := lay(11_000, 11_000, line.Dislodged) // at risk for no time
	a, err := outcomes.Adjust(append(join(courses, few), atOnce), outcomes.Asked{Period: period}, []outcomes.By{outcomes.ByWard}, wards)
	require.NoError(t, err)
	require.Equal(t, len(few), a.LeftOut)
	require.Equal(t, len(courses), a.Lines)
	require.Len(t, a.Levels, 2)
	require.True(t, a.Levels[0].Reference)
	require.False(t, a.Levels[1].Reference)
}

func TestAdjust_RefusesWhereThereIsNothingToCompare(t *testing.T) {
	t.Parallel()
	for name, courses := range map[string][]line.Course{
		"no lines": nil, "one ward": ended(line.Wrist, line.Leak, 40, 20, 1), "few failures": ended(line.Wrist, line.Leak, 4, 20, 1),
	} {
		_, err := outcomes.Adjust(courses, outcomes.Asked{Period: period}, []outcomes.By{outcomes.ByWard, outcomes.ByGauge}, wards)
		require.Error(t, err, name)
	}
}
