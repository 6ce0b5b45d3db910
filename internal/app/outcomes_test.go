package app_test

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
)

type estimateAnswer struct {
	Hours                  float64
	AtRisk                 int `json:"at_risk"`
	Reason                 string
	Estimate, Lower, Upper *float64
}

type rateAnswer struct {
	Reason       string
	Events       int
	Per          *float64 `json:"per_1000_cannula_days"`
	Lower, Upper *float64
}

type becameAnswer struct {
	From, To, By, Cohort string
	KnownSeq             int64 `json:"known_seq"`
	LeftOut              struct {
		FoundGone     *int `json:"found_gone_censored_at_last_look"`
		StartNotKnown *int `json:"start_not_known_counted_from_first_seen"`
		DateOnly      *int `json:"date_only_counted_from_day_start"`
	} `json:"left_out"`
	Groups []struct {
		Group, Name     string
		Lines, Failures int
		Days            float64 `json:"cannula_days"`
		Survival        []estimateAnswer
		Median          estimateAnswer   `json:"median_hours"`
		EndedBy         []estimateAnswer `json:"ended_by"`
		Rates           []rateAnswer
		Failing         rateAnswer `json:"failure_rate"`
	}
	LogRank *struct {
		ChiSquared float64 `json:"chi_squared"`
		DF         int
		P          float64
	} `json:"log_rank"`
}

func became(t *testing.T, q app.OutcomesQuery, now time.Time) (answer becameAnswer, table string) {
	t.Helper()
	if q.AtHours == "" {
		q.AtHours, q.Transform = "10,30", "loglog"
	}
	b, err := app.Outcomes(context.Background(), q, func() time.Time { return now })
	require.NoError(t, err)
	var out, text bytes.Buffer
	require.NoError(t, b.JSON(&out))
	require.NoError(t, b.Table(&text))
	strict := json.NewDecoder(&out)
	strict.DisallowUnknownFields()
	require.NoError(t, strict.Decode(&answer))
	return answer, text.String()
}

// Five lines on two wards, in hours of dwell. At the forearm: phlebitis at 10,
// not needed at 20, occlusion at 30 and still in after 40. At the wrist: found
// gone, last seen after 12. The last line was in before the period, for 5 h of it.
//
// Kaplan-Meier, forearm: 3/4 at 10 h, at 30 h 2 are at risk and 1 fails, 3/8.
// Greenwood at 10 h: 3/4 * sqrt(1/(4*3)) = 0.216506. Its log-log interval is
// 0.75^exp(±1.959964 * 0.216506/(0.75 * ln 0.75)): 0.127952 to 0.960518.
// Aalen-Johansen at 30 h: phlebitis 1/4, not needed 1/4, occlusion 1/4. Days:
// 10 + 20 + 30 + 40 + 5 h = 4.375; 2 failures are 457.14 per 1000 days.
const smallSheet = `line_id,ward,bed,patient_ref,inserted_at,site,side,gauge,last_review_at,removed_at,removal_reason
L1,Ash,1,KD-1,2026-03-02 08:00,forearm,left,20,,2026-03-02 18:00,phlebitis
L2,Ash,2,KD-2,2026-03-02 08:00,forearm,left,20,,2026-03-03 04:00,not-needed
L3,Ash,3,KD-3,2026-03-02 08:00,forearm,left,18,,2026-03-03 14:00,occlusion
L4,Birch,4,KD-4,2026-03-03 20:00,forearm,left,20,,,
L5,Birch,5,KD-5,2026-03-02 08:00,wrist,left,22,2026-03-02 20:00,,found-gone
L6,Ash,6,KD-6,2026-02-28 08:00,forearm,left,20,,2026-03-01 05:00,discharged
`

func TestOutcomes_AgreeWithAHandWorkedRecord(t *testing.T) {
	t.Parallel()
	d := newSheetDesk(t)
	o := d.options(t, smallSheet)
	_, said := d.read(t, o)
	require.Contains(t, said, "6 good rows, 0 bad")
	q := app.OutcomesQuery{DB: o.DB, From: "2026-03-01", To: "2026-03-31", By: "site"}
	record, table := became(t, q, d.now) // asked at noon on the 5th: 40 h after L4 went in
	q.DB, q.Episodes = "", o.File
	bare, _ := became(t, q, d.now)
	for _, a := range []becameAnswer{record, bare} {
		require.Equal(t, "2026-03-05T12:00:00Z", a.To, "what has not come is nothing observed")
	}
	require.NotZero(t, record.KnownSeq)
	require.Zero(t, bare.KnownSeq)
	require.Contains(t, table, "What became of lines from 2026-03-01T00:00:00Z to 2026-03-05T12:00:00Z")
	require.NotContains(t, table, "NaN")
	require.NotContains(t, table, "Inf")

	for name, a := range map[string]becameAnswer{"record": record, "table": bare} {
		t.Run(name, func(t *testing.T) {
			require.Equal(t, "2026-03-01T00:00:00Z", a.From)
			require.Equal(t, "site", a.By)
			require.Equal(t, "placed", a.Cohort)
			require.Equal(t, 1, *a.LeftOut.FoundGone)
			require.Equal(t, 0, *a.LeftOut.StartNotKnown)
			require.Equal(t, 0, *a.LeftOut.DateOnly)
			require.Len(t, a.Groups, 2)
			forearm, wrist := a.Groups[0], a.Groups[1]
			require.Equal(t, "forearm", forearm.Group)
			require.Equal(t, "forearm", forearm.Name)
			require.Equal(t, 4, forearm.Lines)
			require.Equal(t, 2, forearm.Failures)
			require.InDelta(t, 105./24, forearm.Days, 1e-12)
			require.Len(t, forearm.Survival, 2)
			require.Equal(t, 4, forearm.Survival[0].AtRisk)
			require.InDelta(t, 0.75, *forearm.Survival[0].Estimate, 1e-12)
			half := 1.959964 * 0.75 * math.Sqrt(1./12) / (0.75 * math.Log(0.75))
			require.InDelta(t, math.Pow(0.75, math.Exp(-half)), *forearm.Survival[0].Lower, 1e-6)
			require.InDelta(t, math.Pow(0.75, math.Exp(half)), *forearm.Survival[0].Upper, 1e-6)
			require.InDelta(t, 0.127952, *forearm.Survival[0].Lower, 1e-3)
			require.InDelta(t, 0.960518, *forearm.Survival[0].Upper, 1e-3)
			require.InDelta(t, 0.375, *forearm.Survival[1].Estimate, 1e-12)
			require.Equal(t, 30., *forearm.Median.Estimate)
			require.Nil(t, forearm.Median.Upper, "not reached")
			ended := map[string]float64{}
			for _, e := range forearm.EndedBy {
				if e.Hours == 30 {
					ended[e.Reason] = *e.Estimate
				}
			}
			require.Len(t, ended, 13, "every reason but found gone")
			for reason, share := range ended {
				want := map[string]float64{"phlebitis": 0.25, "not-needed": 0.25, "occlusion": 0.25}[reason]
				require.InDelta(t, want, share, 1e-12, reason)
			}
			events := map[string]int{}
			for _, r := range forearm.Rates {
				events[r.Reason] = r.Events
			}
			require.Equal(t, 1, events["discharged"], "rates are of every line in situ")
			require.Equal(t, 1, events["phlebitis"])
			require.Equal(t, 0, events["leak"])
			require.Equal(t, 2, forearm.Failing.Events)
			require.InDelta(t, 2000/4.375, *forearm.Failing.Per, 1e-9)

			require.Equal(t, "wrist", wrist.Group)
			require.Equal(t, 1, wrist.Lines)
			require.InDelta(t, 0.5, wrist.Days, 1e-12)
			require.Equal(t, 1., *wrist.Survival[0].Estimate)
			require.Nil(t, wrist.Survival[0].Lower, "no failure, no log-log interval")
			require.Nil(t, wrist.Survival[1].Estimate, "nobody was followed so far")
			require.Nil(t, wrist.Median.Estimate)
			require.NotNil(t, a.LogRank)
			require.Equal(t, 1, a.LogRank.DF)
		})
	}
}

func TestOutcomes_AnswersTheCohortTheWardAndAPeriodToCome(t *testing.T) {
	t.Parallel()
	d := newSheetDesk(t)
	o := d.options(t, smallSheet)
	d.read(t, o)
	q := app.OutcomesQuery{DB: o.DB, From: "2026-03-01", To: "2026-03-31", By: "ward", Cohort: "in-situ"}
	wards, _ := became(t, q, d.now)
	require.Equal(t, "in-situ", wards.Cohort)
	require.Len(t, wards.Groups, 2)
	lines := map[string]int{}
	for _, g := range wards.Groups {
		lines[g.Name] = g.Lines
	}
	require.Equal(t, map[string]int{"Ash": 4, "Birch": 2}, lines, "the one that was in already too")
	q.From = "2026-06-01"
	q.To = "2026-07-01"
	come, text := became(t, q, d.now)
	require.Empty(t, come.Groups, "L4 is in now, and nobody knows for how long")
	require.Nil(t, come.LogRank)
	require.Contains(t, text, "No line was in during this time")
}

func TestOutcomes_RefusesWhatIsNoQuestion(t *testing.T) {
	t.Parallel()
	d := newSheetDesk(t)
	o := d.options(t, smallSheet)
	d.read(t, o)
	good := app.OutcomesQuery{DB: o.DB, From: "2026-03-01", To: "2026-03-31", AtHours: "24", Transform: "loglog"}
	for name, change := range map[string]func(q *app.OutcomesQuery){
		"to before from": func(q *app.OutcomesQuery) { q.To = "2026-02-01" }, "to at from": func(q *app.OutcomesQuery) { q.To = q.From },
		"no moment": func(q *app.OutcomesQuery) { q.From = "March" }, "grouping": func(q *app.OutcomesQuery) { q.By = "nurse" },
		"cohort": func(q *app.OutcomesQuery) { q.Cohort = "all" }, "scale": func(q *app.OutcomesQuery) { q.Transform = "linear" },
		"hours": func(q *app.OutcomesQuery) { q.AtHours = "24,x" }, "no hours": func(q *app.OutcomesQuery) { q.AtHours = "" },
		"hours below 0": func(q *app.OutcomesQuery) { q.AtHours = "-1" }, "zone": func(q *app.OutcomesQuery) { q.Zone = "Mars" },
	} {
		q := good
		change(&q)
		for _, episodes := range []string{"", o.File} {
			if q.Episodes = episodes; episodes != "" {
				q.DB = ""
			}
			_, err := app.Outcomes(context.Background(), q, func() time.Time { return d.now })
			var misuse *app.Misuse
			require.ErrorAs(t, err, &misuse, name)
		}
	}
	bad := filepath.Join(d.dir, "bad.csv")
	require.NoError(t, os.WriteFile(bad, []byte("line_id,inserted_at,site\nL1,2026-03-02 08:00,nose\n"), 0o600))
	_, err := app.Outcomes(context.Background(), app.OutcomesQuery{Episodes: bad, From: "2026-03-01", To: "2026-03-31", AtHours: "24", Transform: "loglog"},
		func() time.Time { return d.now })
	require.ErrorContains(t, err, "line 2")
	require.NotContains(t, err.Error(), "[import")
}
