package stats_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/stats"
)

// expectedRate is a rate with its exact interval as the reference files give it.
type expectedRate struct {
	Events             int
	Persontime         *float64
	Per, Conf          float64
	Rate, Lower, Upper *float64
	CountLower         *float64 `json:"count_lower"`
	CountUpper         *float64 `json:"count_upper"`
}

func (r *reference[E]) rate(want expectedRate, events int, days float64, what string) {
	r.t.Helper()
	same(r, want.Events, events, what)
	r.agree(want.Persontime, days, what)
	got := stats.Rate{Events: events, Exposure: days / want.Per}
	i, count := got.Interval(want.Conf), stats.Rate{Events: events, Exposure: 1}.Interval(want.Conf)
	r.agree(want.Rate, got.Estimate(), what)
	r.agree(want.Lower, i.Lower, what)
	r.agree(want.Upper, i.Upper, what)
	r.agree(want.CountLower, count.Lower, what)
	r.agree(want.CountUpper, count.Upper, what)
}

func TestRate_AgreesOnEpisodesOfAMonth(t *testing.T) {
	t.Parallel()
	type rates struct {
		Phlebitis []expectedRate `json:"per_1000_line_days"`
		Infection []expectedRate `json:"infection_per_1000"`
	}
	r := readReference[struct {
		All    rates
		ByWard map[string]rates `json:"by_ward"`
	}](t, "episodes_small_line_days_month")
	require.NotEmpty(t, r.Expected.ByWard)
	r.Expected.ByWard[""] = r.Expected.All
	from := time.Date(2024, 3, 1, 0, 0, 0, 0, time.UTC)
	to := from.AddDate(0, 1, 0)
	for ward, want := range r.Expected.ByWard {
		days, ended := 0.0, map[string]int{}
		for _, e := range episodes(t) {
			if ward != "" && e.ward != ward {
				continue
			}
			days += e.within(from, to).Hours() / 24
			if !e.out.Before(from) && e.out.Before(to) {
				ended[e.reason]++
			}
		}
		require.Len(t, want.Phlebitis, 1)
		require.Len(t, want.Infection, 1)
		r.rate(want.Phlebitis[0], ended["phlebitis"], days, "phlebitis "+ward)
		r.rate(want.Infection[0], ended["infection"], days, "infection "+ward)
	}
}

func TestProportions_AgreeOnEpisodesByOperator(t *testing.T) {
	t.Parallel()
	r := readReference[struct {
		Operators []struct {
			Operator    string
			Insertions  int
			Successes   int `json:"first_attempt_successes"`
			P           *float64
			WilsonLower *float64 `json:"wilson_lower"`
			WilsonUpper *float64 `json:"wilson_upper"`
			ExactLower  *float64 `json:"cp_lower"`
			ExactUpper  *float64 `json:"cp_upper"`
		}
	}](t, "episodes_small_operators")
	require.NotEmpty(t, r.Expected.Operators)
	for _, o := range r.Expected.Operators {
		var p stats.Proportion
		for _, e := range episodes(t) {
			if e.operator == o.Operator {
				p.Trials++
				p.Successes += int(one(e.first))
			}
		}
		same(r, stats.Proportion{o.Successes, o.Insertions}, p, o.Operator)
		wilson, exact := stats.Wilson(p.Successes, p.Trials, 0.95), stats.ClopperPearson(p.Successes, p.Trials, 0.95)
		r.agree(o.P, p.Estimate(), o.Operator)
		r.agree(o.WilsonLower, wilson.Lower, o.Operator)
		r.agree(o.WilsonUpper, wilson.Upper, o.Operator)
		r.agree(o.ExactLower, exact.Lower, o.Operator)
		r.agree(o.ExactUpper, exact.Upper, o.Operator)
	}
}
