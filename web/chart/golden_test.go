package chart_test

import (
	"bytes"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/web/chart"
)

// What a person reads: open the files in a browser after a change. They are
// written anew with CHART_GOLDEN=write.
func TestDraw_GivesTheDrawingsThatWereLookedAt(t *testing.T) {
	t.Parallel()
	for name, d := range map[string]chart.Drawing{
		"curves-wide":      twoCurves().Draw(chart.Wide),
		"intervals-narrow": failureBySite().Draw(chart.Narrow),
		"control-wide":     phlebitisByMonth().Draw(chart.Wide),
		"shares-wide":      pressure().Draw(chart.Wide),
	} {
		var got bytes.Buffer
		require.NoError(t, d.WriteSVG(&got))
		file := "testdata/" + name + ".svg"
		if os.Getenv("CHART_GOLDEN") == "write" {
			require.NoError(t, os.WriteFile(file, got.Bytes(), 0o644))
		}
		want, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Equal(t, string(want), got.String(), "%s", file)
	}
}

func BenchmarkDraw(b *testing.B) {
	for name, c := range map[string]chart.Chart{
		"Curves": nineCurves(), "Stacked": endings(), "Intervals": failureBySite(),
		"Control": phlebitisByMonth(), "Funnel": wards(), "Shares": pressure(),
	} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			var out bytes.Buffer
			for b.Loop() {
				out.Reset()
				require.NoError(b, c.Draw(chart.Wide).Render(b.Context(), &out))
			}
			b.ReportMetric(float64(out.Len()), "B/page")
		})
	}
}

func BenchmarkPNG(b *testing.B) {
	d := nineCurves().Draw(chart.Wide)
	for b.Loop() {
		var out bytes.Buffer
		require.NoError(b, d.WritePNG(&out))
	}
}
