package stats_test

import (
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// episode is a row of the invented table of line episodes.
type episode struct {
	id, ward, operator, site, reason string
	gauge                            int
	in, out                          time.Time // out is where it is censored if still in situ
	inSitu, first                    bool
}

// hours is the dwell, from whole minutes.
func (e episode) hours() float64 { return e.out.Sub(e.in).Hours() }

// within is the part of the dwell in [from, to).
func (e episode) within(from, to time.Time) time.Duration {
	start, end := e.in, e.out
	if start.Before(from) {
		start = from
	}
	if end.After(to) {
		end = to
	}
	return max(0, end.Sub(start))
}

func (e episode) failed() bool {
	switch e.reason {
	case "phlebitis", "infiltration", "occlusion", "dislodgement", "infection":
		return true
	}
	return false
}

// episodes reads the table as it stood at the moment the reference files name.
func episodes(t *testing.T) []episode {
	t.Helper()
	c := table(t, "line_episodes_small.csv")
	instant := func(text string) time.Time {
		at, err := time.Parse(time.RFC3339, text)
		require.NoError(t, err)
		return at
	}
	out := make([]episode, len(c["line_id"]))
	for k := range out {
		gauge, err := strconv.Atoi(c["gauge"][k])
		require.NoError(t, err)
		e := episode{
			id: c["line_id"][k], ward: c["ward"][k], operator: c["operator"][k], site: c["site"][k],
			reason: c["removal_reason"][k], gauge: gauge, in: instant(c["inserted_at"][k]),
			first: c["first_attempt_success"][k] == "true",
		}
		if c["removed_at"][k] == "" {
			e.inSitu, e.out, e.reason = true, instant("2025-01-05T00:00:00Z"), "in_situ"
		} else {
			e.out = instant(c["removed_at"][k])
		}
		out[k] = e
	}
	return out
}

func TestEpisodes_AreCountedAsElsewhere(t *testing.T) {
	t.Parallel()
	type counts struct {
		Lines, Operators int
		InSitu           int            `json:"in_situ"`
		ByReason         map[string]int `json:"by_reason"`
		ByWard           map[string]int `json:"by_ward"`
		BySite           map[string]int `json:"by_site"`
		ByGauge          map[string]int `json:"by_gauge"`
		Total            *float64       `json:"dwell_hours_total"`
		Max              *float64       `json:"dwell_hours_max_closed"`
		Median           *float64       `json:"dwell_hours_median_closed"`
	}
	r := readReference[counts](t, "episodes_small_counts")
	got := counts{ByReason: map[string]int{}, ByWard: map[string]int{}, BySite: map[string]int{}, ByGauge: map[string]int{}}
	operators, total, longest := map[string]bool{}, 0.0, 0.0
	var closed []float64
	for _, e := range episodes(t) {
		got.Lines++
		got.ByReason[e.reason]++
		got.ByWard[e.ward]++
		got.BySite[e.site]++
		got.ByGauge[strconv.Itoa(e.gauge)]++
		operators[e.operator] = true
		total += e.hours()
		if e.inSitu {
			got.InSitu++
		} else {
			longest = max(longest, e.hours())
			closed = append(closed, e.hours())
		}
	}
	same(r, r.Expected.Lines, got.Lines, "lines")
	same(r, r.Expected.InSitu, got.InSitu, "in situ")
	same(r, r.Expected.Operators, len(operators), "operators")
	same(r, r.Expected.ByReason, got.ByReason, "reasons")
	same(r, r.Expected.ByWard, got.ByWard, "wards")
	same(r, r.Expected.BySite, got.BySite, "sites")
	same(r, r.Expected.ByGauge, got.ByGauge, "gauges")
	r.agree(r.Expected.Total, total, "hours")
	r.agree(r.Expected.Max, longest, "longest")
	slices.Sort(closed)
	half := len(closed) / 2
	require.Zero(t, len(closed)%2)
	r.agree(r.Expected.Median, (closed[half-1]+closed[half])/2, "median")
}
