package app_test

import (
	"bytes"
	"context"
	"encoding/json"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
)

type complianceAnswer struct {
	From, To, At, Policy string
	KnownSeq             int64 `json:"known_seq"`
	Groups               []struct {
		ID, Name, Rule                     string
		Lines, Due, Open, Missed, Accepted int
		InTime                             int      `json:"met_in_time"`
		Late                               int      `json:"met_late"`
		NotSeen                            int      `json:"not_seen"`
		Proportion                         *float64 `json:"proportion"`
		Lower, Upper                       float64
		ClusterLower                       float64        `json:"cluster_lower"`
		ClusterUpper                       float64        `json:"cluster_upper"`
		Overdue                            float64        `json:"hours_overdue"`
		Unaccounted                        float64        `json:"hours_unaccounted"`
		MetBy                              map[string]int `json:"met_by"`
	}
}

func complianceOf(t *testing.T, q app.ComplianceQuery, clock func() time.Time) (answer complianceAnswer) {
	t.Helper()
	c, err := app.Compliance(context.Background(), q, clock)
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, c.JSON(&out))
	require.NoError(t, json.Unmarshal(out.Bytes(), &answer), out.String())
	return answer
}

// Groups add up to the whole, each is what it says it is, and the invented
// hospital's failings show: one ward's looks, the nights.
func TestCompliance_OfTheInventedHospital(t *testing.T) {
	t.Parallel()
	db := filepath.Join(t.TempDir(), "record.db")
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	clock := func() time.Time { return now }
	_, err := app.MakeDemo(context.Background(), db, 1, now)
	require.NoError(t, err)
	q := app.ComplianceQuery{DB: db, From: "2026-10-20", To: "2026-11-10", By: "rule"}
	whole := complianceOf(t, q, clock)
	require.Equal(t, "2026-10-20T00:00:00+01:00", whole.From, "a bare date is midnight in the hospital's zone")
	require.Equal(t, "2026-11-10T00:00:00Z", whole.To)
	sums := map[string][7]float64{}
	for _, g := range whole.Groups {
		require.Equal(t, g.Rule, g.ID)
		require.Equal(t, g.Due, g.InTime+g.Late+g.Missed+g.Open)
		require.InDelta(t, float64(g.InTime)/float64(g.Due-g.Open), *g.Proportion, 1e-12)
		require.True(t, g.Lower <= *g.Proportion && *g.Proportion <= g.Upper)
		require.True(t, g.ClusterLower <= *g.Proportion && *g.Proportion <= g.ClusterUpper)
		met := 0
		for _, n := range g.MetBy {
			met += n
		}
		require.GreaterOrEqual(t, g.InTime+g.Late, met)
		sums[g.Rule] = [7]float64{float64(g.Due), float64(g.InTime), float64(g.Missed), float64(g.Accepted), float64(g.NotSeen), g.Overdue, g.Unaccounted}
	}
	for _, by := range []string{"ward", "shift", "weekday"} {
		q.By = by
		parts := map[string][7]float64{}
		worst, least := "", 2.0
		for _, g := range complianceOf(t, q, clock).Groups {
			p := parts[g.Rule]
			for i, n := range []float64{float64(g.Due), float64(g.InTime), float64(g.Missed), float64(g.Accepted), float64(g.NotSeen), g.Overdue, g.Unaccounted} {
				p[i] += n
			}
			parts[g.Rule] = p
			if g.Rule == "review-overdue" && *g.Proportion < least {
				worst, least = g.Name, *g.Proportion
			}
		}
		require.Len(t, parts, len(sums))
		for rule, sum := range sums {
			for i := range sum {
				require.InDelta(t, sum[i], parts[rule][i], 1e-6, "%s by %s", rule, by)
			}
		}
		switch by {
		case "ward":
			require.Equal(t, "Birch", worst, "the ward whose nights skip looks")
		case "shift":
			require.Equal(t, "19:30-07:30", worst)
		}
	}
}

// Before anything was recorded nothing is known, of any period.
func TestCompliance_KnowsNothingBeforeTheFirstEntry(t *testing.T) {
	t.Parallel()
	db := filepath.Join(t.TempDir(), "record.db")
	now := time.Date(2026, 3, 25, 14, 0, 0, 0, time.UTC)
	clock := func() time.Time { return now }
	_, err := app.MakeDemo(context.Background(), db, 1, now)
	require.NoError(t, err)
	q := app.ComplianceQuery{DB: db, From: "2026-03-04", To: "2026-03-05", KnownAt: "2020-01-01"}
	none := complianceOf(t, q, clock)
	require.Zero(t, none.KnownSeq)
	require.Empty(t, none.Groups)
	report, err := app.Audit(context.Background(), app.AuditQuery{DB: db, KnownAt: "2020-01-01"}, clock)
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, report.JSON(&out))
	require.Contains(t, out.String(), `"lines_in_situ": 0`)
	require.Contains(t, out.String(), `"known_seq": 0`)

	for _, bad := range []app.ComplianceQuery{
		{DB: db, From: "2026-03-05", To: "2026-03-04"}, {DB: db, From: "March", To: "2026-03-04"}, {DB: db, From: "2026-03-04", To: "2026-03-05", By: "nurse"},
		{DB: db, From: "2026-03-04", To: "2026-03-05", Ward: "Nowhere"}, {DB: db, From: "2026-03-04", To: "2026-03-05", KnownAt: "#0"},
	} {
		_, err := app.Compliance(context.Background(), bad, clock)
		var misuse *app.Misuse
		require.ErrorAs(t, err, &misuse)
	}
}
