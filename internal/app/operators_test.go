package app_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

// operatorsAnswer is what the command prints.
type operatorsAnswer struct {
	LeftOut struct {
		NoOperator    int `json:"no_operator"`
		FirstNotKnown int `json:"first_attempt_not_known"`
	} `json:"left_out"`
	LearningLimit float64 `json:"learning_limit"`
	WatchLimit    float64 `json:"watch_limit"`
	FalseAlarmIn  float64 `json:"false_alarm_once_in"`
	Operators     []struct {
		Operator        string
		Occasions       int
		Successes       int `json:"first_attempt_successes"`
		Proportion      *float64
		Lower, Upper    float64
		LearningAt      *int  `json:"learning_signal_at"`
		WatchAt         *int  `json:"watch_signal_at"`
		LearningSignals []int `json:"learning_signals"`
		WatchSignals    []int `json:"watch_signals"`
	}
}

var operatorsClock = func() time.Time { return time.Date(2025, 1, 5, 0, 0, 0, 0, time.UTC) }

func askOperators(t *testing.T, q app.OperatorsQuery) (a operatorsAnswer) {
	t.Helper()
	all, err := app.OperatorsOf(context.Background(), q, operatorsClock)
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, all.JSON(&out))
	require.NoError(t, json.Unmarshal(out.Bytes(), &a))
	return a
}

// reference is one of the files in testdata/published/stats, computed with R
// 4.2.2 from published formulas; each names its source.
func reference[E any](t *testing.T, name string) (r struct {
	Tolerance struct{ Abs, Rel float64 }
	Expected  E
}) {
	t.Helper()
	text, err := os.ReadFile(published + name)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &r))
	return r
}

const published = "../../testdata/published/stats/"

// episodes writes a table and the map that reads the reference's own words.
func episodes(t *testing.T, table string) app.OperatorsQuery {
	t.Helper()
	dir := t.TempDir()
	q := app.OperatorsQuery{Episodes: filepath.Join(dir, "table.csv"), Map: filepath.Join(dir, "map.toml")}
	require.NoError(t, os.WriteFile(q.Episodes, []byte(table), 0o600))
	require.NoError(t, os.WriteFile(q.Map, []byte("[codes.removal_reason]\ncompleted = \"not-needed\"\n"), 0o600))
	return q
}

func TestOperators_AreThoseOfTheReferenceTable(t *testing.T) {
	t.Parallel()
	want := reference[struct {
		Settings struct {
			LLR struct{ P0, P1, H float64 }
			LC  struct{ H float64 }
		}
		Operators []struct {
			Operator   string
			Insertions int
			Successes  int `json:"first_attempt_successes"`
			P          float64
			Lower      float64 `json:"wilson_lower"`
			Upper      float64 `json:"wilson_upper"`
			WatchAt    *int    `json:"llr_first_signal"`
			Watches    int     `json:"llr_signals_with_reset"`
			LearningAt *int    `json:"lc_competent_at"`
		}
	}](t, "episodes_small_operators.json")
	text, err := os.ReadFile(published + "line_episodes_small.csv")
	require.NoError(t, err)
	q := episodes(t, string(text))
	s := want.Expected.Settings
	q.Acceptable, q.Unacceptable, q.LearningLimit, q.WatchLimit = &s.LLR.P0, &s.LLR.P1, &s.LC.H, &s.LLR.H
	got := askOperators(t, q)
	q.Reset = true
	again := askOperators(t, q)
	require.Len(t, got.Operators, len(want.Expected.Operators))
	for i, w := range want.Expected.Operators {
		g := got.Operators[i]
		require.Equal(t, w.Operator, g.Operator)
		require.Equal(t, w.Insertions, g.Occasions)
		require.Equal(t, w.Successes, g.Successes)
		require.InDelta(t, w.P, *g.Proportion, want.Tolerance.Abs)
		require.InDelta(t, w.Lower, g.Lower, want.Tolerance.Abs)
		require.InDelta(t, w.Upper, g.Upper, want.Tolerance.Abs)
		require.Equal(t, w.WatchAt, g.WatchAt, w.Operator)
		require.Equal(t, w.LearningAt, g.LearningAt, w.Operator)
		require.Len(t, again.Operators[i].WatchSignals, w.Watches, w.Operator)
	}
}

// sequences is the reference's sequences as a table of lines, an operator each.
// Where the first attempt failed every other row says so only by its number of
// attempts; rows come latest first.
func sequences(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(published + "cusum_sequences.csv")
	require.NoError(t, err)
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 400)
	var lines []string
	placed := time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC)
	for n, row := range rows[1:] {
		attempts, first := map[string]int{"0": 1, "1": 2}[row[2]], map[string]string{"0": "true", "1": "false"}[row[2]]
		if n%2 == 0 {
			first = ""
		}
		if n%3 > 0 { // three in one minute, told apart by the line's id
			placed = placed.Add(time.Minute)
		}
		lines = append(lines, fmt.Sprintf("L%06d,%s,forearm,%s,%d,%s", n, row[0], placed.Format(time.RFC3339), attempts, first))
	}
	var table strings.Builder
	table.WriteString("line_id,operator,site,inserted_at,attempts,first_attempt_success\n")
	for i := range lines {
		table.WriteString(lines[len(lines)-1-i] + "\n")
	}
	return table.String()
}

func TestOperators_SignalWhereTheReferenceSumsDo(t *testing.T) {
	t.Parallel()
	q := episodes(t, sequences(t))
	signalsOf := func(q app.OperatorsQuery) map[string][2][]int {
		all := map[string][2][]int{}
		for _, o := range askOperators(t, q).Operators {
			all[o.Operator] = [2][]int{o.LearningSignals, o.WatchSignals}
		}
		return all
	}
	first := func(at *int) []int {
		if at == nil {
			return []int{}
		}
		return []int{*at}
	}
	checked := 0
	for _, e := range reference[[]struct {
		Acceptable   float64 `json:"p_ok"`
		Unacceptable float64 `json:"p_bad"`
		H            float64
		Sequences    map[string]struct {
			At *int `json:"competent_at"`
		}
	}](t, "lc_cusum.json").Expected {
		q := q
		q.Acceptable, q.Unacceptable, q.LearningLimit = &e.Acceptable, &e.Unacceptable, &e.H
		got := signalsOf(q)
		for name, s := range e.Sequences {
			require.Equal(t, first(s.At), got[name][0], "%s at %v", name, e.H)
			checked++
		}
	}
	for _, e := range reference[struct {
		Deterioration []struct {
			P0, P1, H float64
			Sequences map[string]struct {
				At     *int  `json:"first_signal"`
				Resets []int `json:"signals_with_reset"`
			}
		}
	}](t, "cusum_bernoulli_llr.json").Expected.Deterioration {
		q := q
		q.Acceptable, q.Unacceptable, q.WatchLimit = &e.P0, &e.P1, &e.H
		got := signalsOf(q)
		q.Reset = true
		again := signalsOf(q)
		for name, s := range e.Sequences {
			require.Equal(t, first(s.At), got[name][1], "%s at %v", name, e.H)
			require.Equal(t, s.Resets, again[name][1], "%s at %v with reset", name, e.H)
			checked++
		}
	}
	require.Greater(t, checked, 30)
}

func TestOperators_LeaveOutWhatIsNobodysTrial(t *testing.T) {
	t.Parallel()
	q := episodes(t, strings.Join([]string{
		"line_id,operator,site,inserted_at,attempts,first_attempt_success",
		"a,JB,hand,2024-03-01T10:00:00Z,1,",
		"b,JB,hand,2024-03-02T10:00:00Z,3,",
		"c,JB,hand,2024-03-03T10:00:00Z,,",
		"d,,hand,2024-03-03T10:00:00Z,1,",
		"e,JB,hand,2024-03-04T00:00:00Z,1,",
	}, "\n"))
	q.To = "2024-03-04"
	got := askOperators(t, q)
	require.Equal(t, 1, got.LeftOut.NoOperator)
	require.Equal(t, 1, got.LeftOut.FirstNotKnown)
	require.Len(t, got.Operators, 1)
	require.Equal(t, 2, got.Operators[0].Occasions, "one placed at the end of the period is outside it")
	require.Equal(t, 1, got.Operators[0].Successes, "more than one attempt: the first failed")
	q.From = "2024-03-02"
	require.Equal(t, 1, askOperators(t, q).Operators[0].Occasions)

	all, err := app.OperatorsOf(context.Background(), q, operatorsClock)
	require.NoError(t, err)
	var table bytes.Buffer
	require.NoError(t, all.Table(&table))
	require.Contains(t, table.String(), "too few to say")
	require.Contains(t, table.String(), "once in about 512 first attempts")
	require.NotContains(t, table.String(), "[learning")
}

func TestOperators_RefuseWhatCannotBeAnswered(t *testing.T) {
	t.Parallel()
	q := episodes(t, "operator,site,inserted_at,attempts\nJB,hand,2024-03-01,1\n")
	half, nine, less := 0.5, 0.9, -1.0
	for name, change := range map[string]func(*app.OperatorsQuery){
		"acceptable not below":     func(q *app.OperatorsQuery) { q.Acceptable, q.Unacceptable = &nine, &half },
		"a limit below 0":          func(q *app.OperatorsQuery) { q.WatchLimit = &less },
		"a period that ends first": func(q *app.OperatorsQuery) { q.From, q.To = "2024-03-02", "2024-03-01" },
		"no moment":                func(q *app.OperatorsQuery) { q.From = "soon" },
		"no such zone":             func(q *app.OperatorsQuery) { q.Zone = "Nowhere" },
		"no such file":             func(q *app.OperatorsQuery) { q.Episodes += "x" },
	} {
		q := q
		change(&q)
		_, err := app.OperatorsOf(context.Background(), q, operatorsClock)
		var misuse *app.Misuse
		require.ErrorAs(t, err, &misuse, name)
	}
}

// The command counts for everybody what each of them sees of themselves, with
// what they have yet to agree to, and the settings are those of the policy in force.
func TestOperators_AreTheirOwnRecords(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	db := filepath.Join(t.TempDir(), "record.db")
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	clock := func() time.Time { return now }
	_, err := app.MakeDemo(ctx, db, 1, now)
	require.NoError(t, err)
	a, err := app.New(ctx, app.Config{DB: db, Clock: clock})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Close()) })
	all, err := app.OperatorsOf(ctx, app.OperatorsQuery{DB: db}, clock)
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, all.JSON(&out))
	var got operatorsAnswer
	require.NoError(t, json.Unmarshal(out.Bytes(), &got))
	h, err := a.Desk.House(ctx)
	require.NoError(t, err)
	people := 0
	for _, o := range got.Operators {
		for id := range h.People {
			if string(id) != o.Operator {
				continue
			}
			person, err := a.Desk.Person(ctx, id)
			require.NoError(t, err)
			own, err := a.Desk.OwnAttempts(ctx, person)
			require.NoError(t, err)
			first := outcomes.Of(append(own.Counted, own.Waiting...), 0).First
			require.Equal(t, first.N, o.Occasions, o.Operator)
			require.Equal(t, first.Successes, o.Successes)
			people++
		}
	}
	require.Greater(t, people, 5)
	require.Greater(t, got.FalseAlarmIn, 500.0)
	for id := range h.People {
		person, err := a.Desk.Person(ctx, id)
		require.NoError(t, err)
		_, err = a.Desk.Operators(ctx, person, line.Stretch{From: -line.Far, Until: line.Far})
		var refused *fault.Error
		require.ErrorAs(t, err, &refused)
		require.Equal(t, fault.Forbidden, refused.Kind, "nobody sees the records of others")
	}
}
