package flow_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/flow"
)

// judged is the verdict of each gauge.
func judged(t require.TestingT, n flow.Need, with flow.Conditions) map[flow.Gauge]flow.Judgement {
	all, err := n.Judge(flow.UsualCannulas(), with)
	require.NoError(t, err)
	by := map[flow.Gauge]flow.Judgement{}
	for _, j := range all {
		by[j.Cannula.Gauge()] = j
	}
	return by
}

func TestNeed_IsGivenInTheUnitsOfTheTrade(t *testing.T) {
	t.Parallel()
	require.InDelta(t, 180, float64(flow.PerSecond(3)), 1e-12)
	require.InDelta(t, 2.0833, float64(flow.PerHour(125)), 1e-4)
	require.InDelta(t, 3.3333, float64(flow.Over(100, 30*time.Minute)), 1e-4)
	for _, bad := range []flow.MillilitresPerMinute{-1, 2001, flow.Over(100, 0), flow.MillilitresPerMinute(math.NaN())} {
		_, err := flow.Need{Therapy: flow.Drug, Flow: bad}.Judge(flow.UsualCannulas(), flow.Drug.Usual())
		var out *flow.OutOfRange
		require.ErrorAs(t, err, &out, "%v", bad)
		require.Equal(t, flow.Required, out.Quantity)
	}
}

func TestNeed_FindsTheThinnestThatMeetsIt(t *testing.T) {
	t.Parallel()
	// A litre in 20 minutes by gravity through a standard set. By the published
	// gravity flows (22G 36, 20G 64, 18G 98 mL/min; Reddick 2011, at second hand) a
	// 22G falls short and an 18G has it in hand.
	by := judged(t, flow.Need{Therapy: flow.Resuscitation, Flow: flow.Over(1000, 20*time.Minute)}, bySaline())
	require.Equal(t, flow.BelowNeed, by[24].Verdict)
	require.Equal(t, flow.BelowNeed, by[22].Verdict)
	require.Equal(t, flow.MayMeet, by[20].Verdict)
	require.Equal(t, flow.Meets, by[18].Verdict)
	require.Equal(t, flow.Wider, by[16].Verdict)
	require.Equal(t, flow.Wider, by[14].Verdict)
	require.Equal(t, []int{0, 0, 0, 1, 2}, []int{by[22].Spare, by[20].Spare, by[18].Spare, by[16].Spare, by[14].Spare})

	// A litre in eight hours runs through anything.
	by = judged(t, flow.Need{Therapy: flow.Maintenance, Flow: flow.PerHour(125)}, flow.Maintenance.Usual())
	require.Equal(t, flow.Meets, by[24].Verdict)
	require.Equal(t, 5, by[14].Spare)

	// 2000 mL/min is more than any gives; then none is too wide.
	by = judged(t, flow.Need{Therapy: flow.Resuscitation, Flow: 2000}, flow.Resuscitation.Usual())
	for g, j := range by {
		require.Equal(t, flow.BelowNeed, j.Verdict, "%dG", g)
	}
}

// ACR Manual on Contrast Media v9, 2013 (at second hand): at 3 mL/s and more 20G or
// larger is preferred, though a 22G may take as much. In 1000 examinations 3 mL/s was
// reached through 100 % of 18G, 71 % of 20G, 11 % of 22G and no 24G (AJR 2014).
func TestContrast_NeedsThe20GThatIsAdvised(t *testing.T) {
	t.Parallel()
	n := flow.Need{Therapy: flow.Contrast, Flow: flow.PerSecond(3)}
	by := judged(t, n, n.Therapy.Usual())
	require.Equal(t, flow.Meets, by[20].Verdict)
	require.Equal(t, flow.MayMeet, by[22].Verdict)
	require.Equal(t, flow.Wider, by[18].Verdict)
	n.Flow = flow.PerSecond(3.1)
	require.Equal(t, flow.BelowNeed, judged(t, n, n.Therapy.Usual())[24].Verdict)
	n.Flow = flow.PerSecond(6) // more than anything published: not known, so no size is said to fail
	require.Equal(t, flow.MayMeet, judged(t, n, n.Therapy.Usual())[14].Verdict)
}

// Routine transfusion through 20G to 22G and rapid through 16G to 18G (a page
// quoting a hospital's policy; weak). A unit of red cells, 280 mL (from memory), may
// take two to four hours, and in a bleeding patient is wanted in minutes.
func TestTransfusion_RunsThroughAThinCannulaUnlessInAHurry(t *testing.T) {
	t.Parallel()
	slow := flow.Need{Therapy: flow.Transfusion, Flow: flow.Over(280, 2*time.Hour)}
	require.Contains(t, []flow.Verdict{flow.Meets, flow.Wider}, judged(t, slow, slow.Therapy.Usual())[22].Verdict)
	rapidly := flow.Need{Therapy: flow.Transfusion, Flow: flow.Over(280, 15*time.Minute)}
	by := judged(t, rapidly, rapidly.Therapy.Usual())
	require.Equal(t, flow.BelowNeed, by[22].Verdict)
	require.Equal(t, flow.Meets, by[16].Verdict)
}

func TestJudge_SaysWhyACannulaIsNotJudged(t *testing.T) {
	t.Parallel()
	thin, err := flow.NewCannula(flow.Size{Gauge: 26, Length: 19, Rated: 15})
	require.NoError(t, err)
	all, err := flow.Need{Therapy: flow.Contrast, Flow: 60}.Judge([]flow.Cannula{thin, usual(t, 20)}, flow.Contrast.Usual())
	require.NoError(t, err)
	require.Equal(t, flow.NotJudged, all[0].Verdict)
	var unknown *flow.NotKnown
	require.ErrorAs(t, all[0].Err, &unknown)
	require.Equal(t, flow.Meets, all[1].Verdict)

	all, err = flow.Need{Therapy: flow.Drug, Flow: 1}.Judge([]flow.Cannula{thin}, flow.Conditions{})
	require.NoError(t, err)
	require.Error(t, all[0].Err)
}

func TestJudge_HoldsTogether(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		with := anyConditions(t)
		n := flow.Need{
			Therapy: rapid.SampledFrom([]flow.Therapy{flow.Maintenance, flow.Drug, flow.Transfusion, flow.Contrast, flow.Resuscitation}).Draw(t, "therapy"),
			Flow:    flow.MillilitresPerMinute(rapid.Float64Range(0, 500).Draw(t, "need")),
		}
		thinner := flow.Gauge(0) // the last that meets, widest first
		for _, j := range judgements(t, n, with) {
			switch j.Verdict {
			case flow.BelowNeed:
				require.Less(t, j.Upper, n.Flow)
			case flow.MayMeet:
				require.True(t, j.Lower < n.Flow && n.Flow <= j.Upper)
			case flow.Meets, flow.Wider:
				require.GreaterOrEqual(t, j.Lower, n.Flow)
				require.True(t, thinner == 0 || j.Cannula.Gauge() > thinner)
				require.Equal(t, j.Verdict == flow.Wider, j.Spare > 0)
				thinner = j.Cannula.Gauge()
			default:
				require.Error(t, j.Err)
			}
		}
		// A greater need never suits a thinner cannula.
		more := n
		more.Flow += flow.MillilitresPerMinute(rapid.Float64Range(0, 200).Draw(t, "more"))
		require.LessOrEqual(t, fitting(t, more, with), fitting(t, n, with))
	})
}

func judgements(t require.TestingT, n flow.Need, with flow.Conditions) []flow.Judgement {
	all, err := n.Judge(flow.UsualCannulas(), with)
	require.NoError(t, err)
	return all
}

// fitting is the gauge that meets the need, 0 if none.
func fitting(t require.TestingT, n flow.Need, with flow.Conditions) flow.Gauge {
	for _, j := range judgements(t, n, with) {
		if j.Verdict == flow.Meets {
			return j.Cannula.Gauge()
		}
	}
	return 0
}
