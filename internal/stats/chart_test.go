package stats_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/stats"
)

// expectedChart is a chart as the reference files give it.
type expectedChart struct {
	Center   *float64
	SigmaZ   *float64 `json:"sigma_z"`
	Lcl, Ucl *float64 // of a c chart, the same at each point
	Points   []struct {
		X, N, P, U, Z *float64
		Lcl, Ucl      *float64
	}
	Outside []int
}

// outside is the points beyond the limits, counted from 1.
func outside(c stats.Chart) []int {
	out := []int{}
	for _, s := range stats.Signals(c.Z(), []stats.RunRule{stats.BeyondLimits}) {
		out = append(out, s.At+1)
	}
	return out
}

func (r *reference[E]) chart(want expectedChart, got stats.Chart, what string) {
	r.t.Helper()
	r.agree(want.Center, got.Center, what)
	if want.SigmaZ != nil {
		r.agree(want.SigmaZ, got.Spread, what)
	}
	if want.Lcl != nil {
		r.agree(want.Lcl, got.Points[0].Lower, what)
		r.agree(want.Ucl, got.Points[0].Upper, what)
	} else {
		require.Len(r.t, got.Points, len(want.Points), what)
	}
	for k, p := range want.Points {
		value := p.P
		if value == nil {
			value = p.U
		}
		r.agree(value, got.Points[k].Value, "%s, point %d", what, k+1)
		r.agree(p.Lcl, got.Points[k].Lower, "%s, point %d", what, k+1)
		r.agree(p.Ucl, got.Points[k].Upper, "%s, point %d", what, k+1)
		if p.Z != nil { // given before it is divided by sigma Z
			r.agree(p.Z, got.Points[k].Z*got.Spread, "%s, point %d", what, k+1)
		}
	}
	same(r, want.Outside, outside(got), what)
}

// samples reads x and n of a file; without n every size is 1.
func samples(t *testing.T, name string) []stats.Sample {
	t.Helper()
	columns := table(t, name)
	x := numbers(t, columns["x"])
	out := make([]stats.Sample, len(x))
	for k := range x {
		out[k] = stats.Sample{Count: x[k], Size: 1}
	}
	if _, sized := columns["n"]; sized {
		for k, n := range numbers(t, columns["n"]) {
			out[k].Size = n
		}
	}
	return out
}

func TestPChart_AgreesWithChartsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	juice := readReference[struct{ Phase1, Phase2 expectedChart }](t, "pchart_orangejuice")
	cans := samples(t, "orangejuice.csv")
	first := stats.PChart(cans[:30])
	juice.chart(juice.Expected.Phase1, first, "first 30")
	juice.chart(juice.Expected.Phase2, stats.PChartAbout(first.Center, cans), "all about the first 30")
	juice.books(map[string]float64{
		"p-bar": first.Center,
		"UCL":   first.Points[0].Upper, "LCL": first.Points[0].Lower,
		"UCL (qcc)": first.Points[0].Upper, "LCL (qcc)": first.Points[0].Lower,
	})

	orders := readReference[struct{ Pchart, Laney expectedChart }](t, "pchart_variable_n")
	rows := samples(t, "purchase_orders.csv")
	got := stats.PChart(rows)
	orders.chart(orders.Expected.Pchart, got, "orders")
	orders.chart(orders.Expected.Laney, stats.LaneyPChart(rows), "orders, Laney")
	var all stats.Sample
	for _, s := range rows {
		all.Count += s.Count
		all.Size += s.Size
	}
	orders.books(map[string]float64{
		"sum D": all.Count, "sum n": all.Size, "p-bar": got.Center,
		"UCL sample 1 (n=100)": got.Points[0].Upper, "LCL sample 1": got.Points[0].Lower, "UCL n=80": got.Points[1].Upper,
	})
}

func TestUChart_AgreesWithChartsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	u := readReference[map[string]expectedChart](t, "uchart")
	computers, cloth := stats.UChart(samples(t, "pcmanufact.csv")), samples(t, "dyedcloth.csv")
	u.chart(u.Expected["pcmanufact"], computers, "computers")
	u.chart(u.Expected["dyedcloth"], stats.UChart(cloth), "cloth")
	u.chart(u.Expected["dyedcloth_laney"], stats.LaneyUChart(cloth), "cloth, Laney")
	u.books(map[string]float64{
		"pcmanufact u-bar": computers.Center,
		"pcmanufact UCL":   computers.Points[0].Upper, "pcmanufact LCL": computers.Points[0].Lower,
		"dyedcloth u-bar": stats.UChart(cloth).Center,
	})

	c := readReference[map[string]expectedChart](t, "cchart")
	wafers, circuit := stats.UChart(samples(t, "nist_c.csv")), stats.UChart(samples(t, "circuit.csv"))
	c.chart(c.Expected["nist"], wafers, "wafers")
	c.chart(c.Expected["circuit"], circuit, "circuit")
	c.books(map[string]float64{
		"NIST c-bar": wafers.Center, "NIST UCL": wafers.Points[0].Upper, "NIST LCL": wafers.Points[0].Lower,
		"circuit c-bar": circuit.Center, "circuit UCL": circuit.Points[0].Upper, "circuit LCL": circuit.Points[0].Lower,
	})
}

func TestLaneyChart_AgreesWithChartsWorkedOutElsewhere(t *testing.T) {
	t.Parallel()
	type charts struct {
		CbppP       expectedChart `json:"cbpp_p"`
		Cbpp        expectedChart
		Orangejuice expectedChart
		Exact       *float64      `json:"cbpp_d2_exact_sigma_z"`
		CbppU       expectedChart `json:"cbpp_laney_u"`
	}
	r := readReference[charts](t, "laney_p")
	herds := samples(t, "cbpp.csv")
	r.chart(r.Expected.CbppP, stats.PChart(herds), "herds")
	laney := stats.LaneyPChart(herds)
	r.chart(r.Expected.Cbpp, laney, "herds, p'")
	r.chart(r.Expected.CbppU, stats.LaneyUChart(herds), "herds, u'")
	r.chart(r.Expected.Orangejuice, stats.LaneyPChart(samples(t, "orangejuice.csv")[:30]), "cans, p'")
	// With the exact constant in place of the tabled one.
	r.agree(r.Expected.Exact, laney.Spread*1.128/(2/math.Sqrt(math.Pi)), "sigma Z")
}

func TestCharts_AgreeOnEpisodes(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Months []string
		P, U   expectedChart
		Lp     expectedChart `json:"laney_p"`
		Lu     expectedChart `json:"laney_u"`
		G      struct{ Events int }
	}](t, "episodes_small_charts")
	require.Len(t, r.Expected.Months, 12)
	var placed, phlebitis []stats.Sample
	infections := 0
	for _, month := range r.Expected.Months {
		from, err := time.Parse("2006-01", month)
		require.NoError(t, err)
		to := from.AddDate(0, 1, 0)
		within := func(at time.Time) bool { return !at.Before(from) && at.Before(to) }
		var p, u stats.Sample
		for _, e := range episodes(t) {
			if within(e.in) {
				p.Size++
				if e.first {
					p.Count++
				}
			}
			u.Size += e.within(from, to).Hours() / 24 / 1000
			if !e.inSitu && e.reason == "phlebitis" && within(e.out) {
				u.Count++
			}
			if e.reason == "infection" && within(e.out) {
				infections++
			}
		}
		placed, phlebitis = append(placed, p), append(phlebitis, u)
	}
	r.chart(r.Expected.P, stats.PChart(placed), "first attempts")
	r.chart(r.Expected.Lp, stats.LaneyPChart(placed), "first attempts, p'")
	r.chart(r.Expected.U, stats.UChart(phlebitis), "phlebitis")
	r.chart(r.Expected.Lu, stats.LaneyUChart(phlebitis), "phlebitis, u'")
	same(r, r.Expected.G.Events, infections, "infections") // one alone has no gap to chart
}

func TestCharts_LeaveOutWhatHasNoSize(t *testing.T) {
	t.Parallel()
	c := stats.PChart([]stats.Sample{{1, 10}, {0, 0}, {3, 10}})
	require.Equal(t, 0.2, c.Center)
	require.True(t, math.IsNaN(c.Points[1].Value) && math.IsNaN(c.Points[1].Z))
	with := stats.LaneyPChart([]stats.Sample{{1, 10}, {0, 0}, {3, 10}, {2, 12}})
	without := stats.LaneyPChart([]stats.Sample{{1, 10}, {3, 10}, {2, 12}})
	require.Equal(t, without.Spread, with.Spread)
	require.True(t, math.IsNaN(stats.PChart(nil).Center))
	// Nothing varies: nothing signals, and Laney's factor is left at 1.
	for _, none := range []stats.Chart{
		stats.PChart([]stats.Sample{{0, 10}, {0, 20}}), stats.LaneyPChart([]stats.Sample{{0, 10}, {0, 20}}),
		stats.UChart([]stats.Sample{{0, 1}, {0, 2}}), stats.LaneyPChart([]stats.Sample{{10, 10}, {20, 20}}),
	} {
		require.Equal(t, 1.0, none.Spread)
		require.Empty(t, outside(none))
	}
}

func TestCharts_KeepTheirLimitsAboutTheCentre(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var rows []stats.Sample
		for range rapid.IntRange(1, 40).Draw(t, "points") {
			n := rapid.IntRange(0, 300).Draw(t, "n")
			rows = append(rows, stats.Sample{Count: float64(rapid.IntRange(0, n).Draw(t, "x")), Size: float64(n)})
		}
		for _, c := range []stats.Chart{stats.PChart(rows), stats.LaneyPChart(rows), stats.UChart(rows), stats.LaneyUChart(rows)} {
			for k, p := range c.Points {
				if rows[k].Size == 0 {
					require.True(t, math.IsNaN(p.Lower))
					continue
				}
				require.True(t, 0 <= p.Lower && p.Lower <= c.Center+1e-12 && c.Center <= p.Upper+1e-12, "%+v", p)
				if math.Abs(math.Abs(p.Z)-3) > 1e-9 { // what is drawn beyond a line is what signals
					require.Equal(t, p.Value > p.Upper || p.Value < p.Lower, math.Abs(p.Z) > 3, "%+v", p)
				}
			}
		}
	})
}
