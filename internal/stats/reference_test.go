package stats_test

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// Each file of testdata/published/stats holds inputs, what another program
// worked out of them, its tolerance and the source.
const referenceFolder = "../../testdata/published/stats/"

// reference is what such a file says, E being the shape of what is expected.
type reference[E any] struct {
	ID        string
	Source    struct{ R string }
	Tolerance struct{ Abs, Rel float64 }
	Expected  E
	Published []printed
	t         *testing.T
	checked   int
}

// printed is a number from a book or an article, to so many decimals.
type printed struct {
	What       string
	Published  float64
	Decimals   int
	Reproduced bool
	Provenance string
}

// readReference reads one file; the number of values checked is logged at the end.
func readReference[E any](t *testing.T, id string) *reference[E] {
	t.Helper()
	text, err := os.ReadFile(referenceFolder + id + ".json")
	require.NoError(t, err)
	r := &reference[E]{t: t}
	require.NoError(t, json.Unmarshal(text, r))
	require.Equal(t, id, r.ID)
	require.NotEmpty(t, r.Source.R)
	require.True(t, r.Tolerance.Abs > 0 && r.Tolerance.Abs <= 1e-6 && r.Tolerance.Rel <= 1e-6)
	t.Cleanup(func() {
		require.NotZero(t, r.checked)
		t.Logf("%s: %d values checked", id, r.checked)
	})
	return r
}

// agree checks one value; what no package gives a number to must be undefined
// or infinite here too.
func (r *reference[E]) agree(want *float64, got float64, what string, args ...any) {
	r.t.Helper()
	r.checked++
	if want == nil {
		require.True(r.t, math.IsNaN(got) || math.IsInf(got, 0), append([]any{what + ": %v"}, append(args, got)...)...)
		return
	}
	require.InDelta(r.t, *want, got, r.Tolerance.Abs+r.Tolerance.Rel*math.Abs(*want), append([]any{what}, args...)...)
}

// same checks something that has no tolerance.
func same[E any](r *reference[E], want, got any, what string) {
	r.t.Helper()
	r.checked++
	require.Equal(r.t, want, got, what)
}

// books checks the printed numbers against what is worked out here, found by
// what each one is; a number the source itself gets wrong is skipped.
func (r *reference[E]) books(found map[string]float64) {
	r.t.Helper()
	for _, p := range r.Published {
		if !p.Reproduced {
			continue
		}
		require.Contains(r.t, found, p.What)
		require.NotEmpty(r.t, p.Provenance)
		r.checked++
		// Half of the last digit printed.
		require.InDelta(r.t, p.Published, found[p.What], 0.5*math.Pow10(-p.Decimals)+1e-12, p.What)
	}
}

// table reads a file of comma-separated values into its columns.
func table(t *testing.T, name string) map[string][]string {
	t.Helper()
	file, err := os.Open(referenceFolder + name)
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 1)
	columns := map[string][]string{}
	for k, name := range rows[0] {
		for _, row := range rows[1:] {
			columns[name] = append(columns[name], row[k])
		}
	}
	return columns
}

// numbers reads a column as numbers.
func numbers(t *testing.T, column []string) []float64 {
	t.Helper()
	require.NotEmpty(t, column)
	out := make([]float64, len(column))
	for k, text := range column {
		var err error
		out[k], err = strconv.ParseFloat(text, 64)
		require.NoError(t, err)
	}
	return out
}
