package outcomes_test

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/interop"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
)

// The invented table of 300 lines in testdata/published/stats and what R 4.2.2
// (survival 3.5-3, cmprsk 2.2-11) makes of it, as each file there says. Its
// failures are phlebitis, infiltration, occlusion, dislodgement and infection;
// it was looked at on 5 January 2025.
const published = "../../testdata/published/stats/"

var (
	asOf      = time.Date(2025, 1, 5, 0, 0, 0, 0, time.UTC)
	wholeFile = line.Stretch{From: line.MinuteOf(time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC)), Until: line.MinuteOf(asOf)}
	theirSite = map[string]string{"elbow-crease": "antecubital", "foot-dorsum": "foot", "hand-dorsum": "hand", "upper-arm": "upper_arm"}
)

// theirs is the reference's name of a group.
func theirs(g *outcomes.Group) string {
	if name, ok := theirSite[g.ID]; ok {
		return name
	}
	return g.ID
}

// table reads the table by the product's own reader.
func table(t testing.TB) ([]line.Course, outcomes.Names) {
	t.Helper()
	text, err := os.ReadFile(published + "line_episodes_small.csv")
	require.NoError(t, err)
	m, err := interop.ParseMapping("m", []byte("[codes.removal_reason]\ncompleted = \"not-needed\"\n"))
	require.NoError(t, err)
	e, err := interop.ReadEpisodes(strings.NewReader(string(text)), interop.EpisodeOptions{Mapping: m, Now: asOf})
	require.NoError(t, err)
	require.Empty(t, e.Bad)
	require.Len(t, e.Courses, 300)
	return e.Courses, outcomes.Names{Ward: func(k line.Key) outcomes.Name { return outcomes.Name{ID: e.Wards[k-1], Label: e.Wards[k-1]} }}
}

func followTable(t *testing.T, by outcomes.By, period line.Stretch) *outcomes.Courses {
	t.Helper()
	courses, names := table(t)
	c, err := outcomes.Follow(courses, outcomes.Asked{Period: period, By: by}, names)
	require.NoError(t, err)
	return c
}

// reference is one file, E being the shape of what is expected; nil where
// there is no number.
type reference[E any] struct {
	Tolerance struct{ Abs, Rel float64 }
	Expected  E
	t         *testing.T
}

func readReference[E any](t *testing.T, id string) *reference[E] {
	t.Helper()
	text, err := os.ReadFile(published + id + ".json")
	require.NoError(t, err)
	r := &reference[E]{t: t}
	require.NoError(t, json.Unmarshal(text, r))
	require.True(t, r.Tolerance.Abs > 0 && r.Tolerance.Abs <= 1e-6)
	return r
}

func (r *reference[E]) agree(want *float64, got float64, what ...any) {
	r.t.Helper()
	if want == nil {
		require.True(r.t, math.IsNaN(got) || math.IsInf(got, 0), what...)
		return
	}
	require.InDelta(r.t, *want, got, r.Tolerance.Abs+r.Tolerance.Rel*math.Abs(*want), what...)
}

type ends struct{ Lower, Upper *float64 }

type kaplanMeier struct {
	N, Events int
	AtTimes   []struct {
		Time        float64
		AtRisk      int `json:"n_risk"`
		Surv, SE    *float64
		PlainLower  *float64 `json:"plain_lower"`
		PlainUpper  *float64 `json:"plain_upper"`
		LogLower    *float64 `json:"log_lower"`
		LogUpper    *float64 `json:"log_upper"`
		DoubleLower *float64 `json:"loglog_lower"`
		DoubleUpper *float64 `json:"loglog_upper"`
	} `json:"at_times"`
	Median map[string]struct{ Median, Lower, Upper *float64 }
	RMST   struct{ Tau, RMST, SE float64 }
}

func TestFollow_SurvivalIsThatOfTheReference(t *testing.T) {
	t.Parallel()
	for id, by := range map[string]outcomes.By{
		"episodes_small_km_all": outcomes.ByNothing, "episodes_small_km_site": outcomes.BySite, "episodes_small_km_gauge": outcomes.ByGauge,
	} {
		r := readReference[map[string]kaplanMeier](t, id)
		answer := followTable(t, by, wholeFile)
		require.Len(t, answer.Groups, len(r.Expected))
		for i := range answer.Groups {
			g := &answer.Groups[i]
			want, ok := r.Expected[theirs(g)]
			require.True(t, ok, g.ID)
			require.Equal(t, want.N, g.Lines, g.ID)
			require.Equal(t, want.Events, g.Failed, g.ID)
			require.NotEmpty(t, want.AtTimes)
			for _, at := range want.AtTimes {
				p := g.Survival.At(at.Time)
				require.Equal(t, at.AtRisk, p.AtRisk)
				r.agree(at.Surv, p.Estimate, g.ID)
				for scale, e := range map[stats.Transform]ends{
					stats.Plain: {at.PlainLower, at.PlainUpper}, stats.Log: {at.LogLower, at.LogUpper}, stats.LogLog: {at.DoubleLower, at.DoubleUpper},
				} {
					i := p.Interval(scale, outcomes.Confidence)
					r.agree(e.Lower, i.Lower, g.ID, at.Time, scale)
					r.agree(e.Upper, i.Upper, g.ID, at.Time, scale)
				}
			}
			for scale, want := range want.Median {
				transform, err := stats.ParseTransform(scale)
				require.NoError(t, err)
				median, i := g.Survival.Median(transform, outcomes.Confidence)
				r.agree(want.Median, median, g.ID, scale)
				r.agree(want.Lower, i.Lower, g.ID, scale)
				r.agree(want.Upper, i.Upper, g.ID, scale)
			}
			mean, se := g.Survival.RestrictedMean(want.RMST.Tau)
			r.agree(&want.RMST.RMST, mean, g.ID)
			r.agree(&want.RMST.SE, se, g.ID)
		}
	}
}

func TestFollow_LogRankIsThatOfTheReference(t *testing.T) {
	t.Parallel()
	type logRank struct {
		Groups []struct {
			Group              string
			N                  int
			Observed, Expected float64
		}
		ChiSq, P float64
		DF       int
	}
	r := readReference[struct{ Site, Gauge logRank }](t, "episodes_small_logrank")
	for by, want := range map[outcomes.By]logRank{outcomes.BySite: r.Expected.Site, outcomes.ByGauge: r.Expected.Gauge} {
		answer := followTable(t, by, wholeFile)
		r.agree(&want.ChiSq, answer.LogRank.ChiSquared, by)
		r.agree(&want.P, answer.LogRank.P, by)
		require.Equal(t, want.DF, answer.LogRank.DF)
		require.Len(t, answer.LogRank.Groups, len(want.Groups))
		at := map[string]stats.LogRankGroup{} // our words stand in another order than theirs
		for i := range answer.Groups {
			at[theirs(&answer.Groups[i])] = answer.LogRank.Groups[i]
		}
		for _, g := range want.Groups {
			require.Equal(t, g.N, at[g.Group].N)
			r.agree(&g.Observed, at[g.Group].Observed, g.Group)
			r.agree(&g.Expected, at[g.Group].Expected, g.Group)
		}
	}
	require.Nil(t, followTable(t, outcomes.ByNothing, wholeFile).LogRank)
}

func TestFollow_IncidenceIsThatOfTheReference(t *testing.T) {
	t.Parallel()
	type point struct {
		Time  float64
		CIF   *float64
		SE    *float64 `json:"se_greenwood"`
		Lower *float64 `json:"loglog_lower"`
		Upper *float64 `json:"loglog_upper"`
	}
	type group struct {
		N                      int
		Cause1, Cause2, Cause3 []point
		EventFree              []struct{ Time, Surv float64 } `json:"event_free"`
	}
	r := readReference[struct {
		Overall     map[string]group
		BySite      map[string]group `json:"by_site"`
		ByWard      map[string]group `json:"by_ward"`
		ThreeCauses map[string]group `json:"three_causes"`
	}](t, "episodes_small_cif")
	for by, want := range map[outcomes.By]map[string]group{
		outcomes.ByNothing: r.Expected.Overall, outcomes.BySite: r.Expected.BySite, outcomes.ByWard: r.Expected.ByWard,
	} {
		answer := followTable(t, by, wholeFile)
		require.Len(t, answer.Groups, len(want))
		for i := range answer.Groups {
			g := &answer.Groups[i]
			want, ok := want[theirs(g)]
			require.True(t, ok, g.ID)
			for _, p := range want.Cause1 {
				s := g.Incidence.At(stats.Ending(line.Phlebitis), p.Time)
				i := s.Interval(stats.LogLog, outcomes.Confidence)
				r.agree(p.CIF, s.Estimate, g.ID, p.Time)
				r.agree(p.SE, s.SE, g.ID, p.Time)
				r.agree(p.Lower, i.Lower, g.ID, p.Time)
				r.agree(p.Upper, i.Upper, g.ID, p.Time)
			}
			for _, p := range want.Cause2 { // theirs is every other end in one
				r.agree(p.CIF, incidence(g, p.Time, func(e line.Reason) bool { return e != line.Phlebitis }), g.ID, p.Time)
			}
			for _, p := range want.EventFree {
				r.agree(&p.Surv, g.Incidence.EventFree(p.Time), g.ID, p.Time)
			}
		}
	}
	g := &followTable(t, outcomes.ByNothing, wholeFile).Groups[0]
	for i, p := range r.Expected.ThreeCauses["all"].Cause2 {
		r.agree(p.CIF, incidence(g, p.Time, func(e line.Reason) bool { return line.Fails(e) && e != line.Phlebitis }))
		r.agree(r.Expected.ThreeCauses["all"].Cause3[i].CIF, incidence(g, p.Time, func(e line.Reason) bool { return !line.Fails(e) }))
	}
}

// incidence is of several reasons together: of one group shares of different
// reasons add up.
func incidence(g *outcomes.Group, hours float64, of func(line.Reason) bool) (sum float64) {
	for _, reason := range outcomes.Ends {
		if of(reason) {
			sum += g.Incidence.At(stats.Ending(reason), hours).Estimate
		}
	}
	return sum
}

type rate struct {
	Events             int
	Persontime         float64
	Rate, Lower, Upper *float64
}

func (r *reference[E]) rate(want rate, got stats.Rate, what ...any) {
	r.t.Helper()
	require.Equal(r.t, want.Events, got.Events, what...)
	r.agree(&want.Persontime, got.Exposure*outcomes.PerThousand, what...)
	r.agree(want.Rate, got.Estimate(), what...)
	i := got.Interval(outcomes.Confidence)
	r.agree(want.Lower, i.Lower, what...)
	r.agree(want.Upper, i.Upper, what...)
}

func TestFollow_RatesOfAMonthAreThoseOfTheReference(t *testing.T) {
	t.Parallel()
	type month struct {
		Phlebitis []rate `json:"per_1000_line_days"`
		Infection []rate `json:"infection_per_1000"`
	}
	r := readReference[struct {
		All    month
		ByWard map[string]month `json:"by_ward"`
	}](t, "episodes_small_line_days_month")
	march := line.Stretch{
		From: line.MinuteOf(time.Date(2024, 3, 1, 0, 0, 0, 0, time.UTC)), Until: line.MinuteOf(time.Date(2024, 4, 1, 0, 0, 0, 0, time.UTC)),
	}
	wards := followTable(t, outcomes.ByWard, march)
	require.Len(t, wards.Groups, len(r.Expected.ByWard))
	for i := range wards.Groups {
		g := &wards.Groups[i]
		r.rate(r.Expected.ByWard[g.ID].Phlebitis[0], g.Rate(line.Phlebitis), g.ID)
		r.rate(r.Expected.ByWard[g.ID].Infection[0], g.Rate(line.InfectionSuspected), g.ID)
	}
	all := &followTable(t, outcomes.ByNothing, march).Groups[0]
	r.rate(r.Expected.All.Phlebitis[0], all.Rate(line.Phlebitis))
	r.rate(r.Expected.All.Infection[0], all.Rate(line.InfectionSuspected))
}

func TestFunnel_IsThatOfTheReference(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Rate struct {
			Target float64 `json:"target_rate"`
			Units  []struct {
				Unit         string
				Events       int
				Persontime   float64
				Rate         float64
				ActionLower  float64 `json:"limit_0.001"`
				WarningLower float64 `json:"limit_0.025"`
				WarningUpper float64 `json:"limit_0.975"`
				ActionUpper  float64 `json:"limit_0.999"`
			}
			Warning []string `json:"outside_95"`
			Action  []string `json:"outside_99.8"`
		} `json:"ward_phlebitis_rate"`
	}](t, "episodes_small_funnel")
	want := r.Expected.Rate
	wards := followTable(t, outcomes.ByWard, wholeFile)
	var rates []stats.Rate
	for i := range wards.Groups {
		rates = append(rates, wards.Groups[i].Rate(line.Phlebitis))
	}
	f := outcomes.NewFunnel(rates)
	require.NotNil(t, f)
	r.agree(&want.Target, f.Target)
	require.Len(t, f.Points, len(want.Units))
	// The reference widens no limits; ours are, about the target, where the wards
	// differ by more than chance, as these do (Spiegelhalter 2005, Stat Med 24:1185).
	require.Less(t, f.Spread.P, 0.05)
	require.Greater(t, f.Widened, 1.)
	widened := func(limit float64) *float64 { v := want.Target + f.Widened*(limit-want.Target); return &v }
	plain := stats.FunnelRates(rates, f.Target)
	var warning, action []string
	for i, u := range want.Units {
		p := f.Points[i]
		require.Equal(t, u.Unit, wards.Groups[i].ID)
		require.Equal(t, u.Events, rates[i].Events)
		r.agree(&u.Persontime, rates[i].Exposure*outcomes.PerThousand, u.Unit)
		r.agree(&u.Rate, p.Value, u.Unit)
		r.agree(widened(u.WarningLower), p.Warning.Lower, u.Unit)
		r.agree(widened(u.WarningUpper), p.Warning.Upper, u.Unit)
		r.agree(widened(u.ActionLower), p.Action.Lower, u.Unit)
		r.agree(widened(u.ActionUpper), p.Action.Upper, u.Unit)
		if plain[i].BeyondWarning() {
			warning = append(warning, u.Unit)
		}
		if plain[i].BeyondAction() {
			action = append(action, u.Unit)
		}
	}
	require.Equal(t, want.Warning, warning)
	require.Equal(t, want.Action, action)
}

func TestWatch_IsTheChartOfTheReference(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Months []string
		Laney  struct {
			Center float64
			SigmaZ float64 `json:"sigma_z"`
			Points []struct{ U, Z, LCL, UCL float64 }
		} `json:"laney_u"`
		U struct{ Points []struct{ X, N float64 } }
		G struct{ Events int }
	}](t, "episodes_small_charts")
	want := r.Expected
	courses, _ := table(t)
	year := line.Stretch{From: wholeFile.From, Until: line.MinuteOf(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC))}
	w := outcomes.Watch(courses, outcomes.PhlebitisAtRemoval, year, time.UTC)
	require.False(t, w.Weekly)
	require.NotNil(t, w.Rates)
	require.Nil(t, w.Gaps)
	require.Len(t, w.Periods, len(want.Months))
	r.agree(&want.Laney.Center, w.Rates.Center)
	r.agree(&want.Laney.SigmaZ, w.Rates.Spread)
	for i, p := range w.Rates.Points {
		require.Equal(t, want.Months[i], w.Periods[i].From.Time().Format("2006-01"))
		r.agree(&want.U.Points[i].X, w.Samples[i].Count, i)
		r.agree(&want.U.Points[i].N, w.Samples[i].Size, i)
		r.agree(&want.Laney.Points[i].U, p.Value, i)
		r.agree(&want.Laney.Points[i].Z, p.Z*w.Rates.Spread, i) // theirs is before it is spread
		r.agree(&want.Laney.Points[i].LCL, p.Lower, i)
		r.agree(&want.Laney.Points[i].UCL, p.Upper, i)
	}
	rare := outcomes.Watch(courses, outcomes.InfectionSuspected, year, time.UTC)
	require.Equal(t, want.G.Events, rare.Events)
	require.Nil(t, rare.Rates)
	require.Nil(t, rare.Gaps, "one event has no gap")
}

// Each of two halves of the table is put on a ward of its own, so that the
// ward is what the reference's covariate is.
func TestAdjust_HazardRatioIsThatOfTheReference(t *testing.T) {
	t.Parallel()
	type cox struct {
		Efron struct {
			HR    *float64
			Lower *float64 `json:"hr_lower"`
			Upper *float64 `json:"hr_upper"`
		}
	}
	r := readReference[struct {
		Gauge cox `json:"gauge_ge_22"`
		Hand  cox
	}](t, "episodes_small_cox")
	for _, c := range []struct {
		of   func(line.Course) bool
		want cox
	}{
		{func(c line.Course) bool { return c.Gauge >= 22 }, r.Expected.Gauge},
		{func(c line.Course) bool { return c.Site == line.HandDorsum }, r.Expected.Hand},
	} {
		courses, _ := table(t)
		for i := range courses {
			courses[i].Ward = 1
			if c.of(courses[i]) {
				courses[i].Ward = 2
			}
		}
		a, err := outcomes.Adjust(courses, outcomes.Asked{Period: wholeFile}, []outcomes.By{outcomes.ByWard}, wards)
		require.NoError(t, err)
		require.Equal(t, 300, a.Lines)
		require.Equal(t, 111, a.Failed)
		require.Zero(t, a.LeftOut)
		require.Len(t, a.Levels, 2)
		require.True(t, a.Levels[0].Reference)
		require.Equal(t, 1., a.Levels[0].Hazard)
		require.Equal(t, "b", a.Levels[1].Name.ID)
		r.agree(c.want.Efron.HR, a.Levels[1].Hazard)
		r.agree(c.want.Efron.Lower, a.Levels[1].Interval.Lower)
		r.agree(c.want.Efron.Upper, a.Levels[1].Interval.Upper)
	}
}
