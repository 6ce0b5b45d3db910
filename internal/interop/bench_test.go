package interop_test

import (
	"bytes"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/interop"
	"dwellbook/internal/line"
)

// sheetOf is a sound sheet of n rows, two lines a patient.
func sheetOf(n int) string {
	var b strings.Builder
	b.WriteString(head)
	for i := range n {
		fmt.Fprintf(&b, "L%d,Ash,%d,R%05d,2026-03-02 08:20,ACF,left,20g,JB,2,full,film,,2026-03-03 09:00,0,,\n", i, i%30, i/2)
	}
	return b.String()
}

func BenchmarkReadSheet(b *testing.B) {
	text := sheetOf(1000)
	for b.Loop() {
		s, err := interop.ReadSheet(strings.NewReader(text), options())
		require.NoError(b, err)
		require.Len(b, s.Rows, 1000)
	}
}

func BenchmarkReadEntries(b *testing.B) {
	s, err := interop.ReadSheet(strings.NewReader(sheetOf(1000)), options())
	require.NoError(b, err)
	var out bytes.Buffer
	for _, r := range s.Rows {
		for _, e := range r.Entries {
			canonical, texts, err := line.Canonical(e, func() string { return "c2FsdA" })
			require.NoError(b, err)
			require.NoError(b, interop.WriteEntry(&out, canonical, texts))
		}
	}
	b.SetBytes(int64(out.Len()))
	n := 0
	for b.Loop() {
		n = 0
		require.NoError(b, interop.ReadEntries(bytes.NewReader(out.Bytes()), func(int, []byte, []line.Sealed) error { n++; return nil }))
	}
	b.ReportMetric(float64(n), "entries/op")
}

// episodesOf writes n rows of about 120 bytes, with times as the format says.
func episodesOf(n int, format string) []byte {
	var b bytes.Buffer
	b.WriteString("line_id,ward,operator,site,side,gauge,asepsis,inserted_at,removed_at,removal_reason,attempts,first_attempt_success\n")
	start := time.Date(2015, 1, 1, 6, 31, 0, 0, time.UTC)
	sites, reasons := line.Site(0).All(), line.Reason(0).All()
	for i := range n {
		in := start.Add(time.Duration(i) * 5 * time.Minute)
		fmt.Fprintf(&b, "LINE%07d,Ward %d,OP%03d,%s,%s,%d,full,%s,%s,%s,%d,%t\n", i, i%30, i%400, sites[i%len(sites)], []string{"left", "R"}[i%2],
			line.Gauges[i%len(line.Gauges)], in.Format(format), in.Add(time.Duration(i%6000)*time.Minute).Format(format), reasons[i%12], 1+i%3, i%3 == 0)
	}
	return b.Bytes()
}

func BenchmarkReadEpisodes(b *testing.B) {
	const n = 1_000_000
	for name, c := range map[string]struct {
		format string
		zone   *time.Location
	}{
		"RFC 3339":        {time.RFC3339, time.UTC},
		"local":           {"2006-01-02 15:04", time.UTC},
		"local in London": {"2006-01-02 15:04", london},
	} {
		b.Run(name, func(b *testing.B) {
			text := episodesOf(n, c.format)
			o := interop.EpisodeOptions{Zone: c.zone, Now: time.Date(2026, 3, 5, 12, 0, 0, 0, time.UTC)}
			var e *interop.Episodes
			for b.Loop() {
				e = nil
				var err error
				e, err = interop.ReadEpisodes(bytes.NewReader(text), o)
				require.NoError(b, err)
				require.Equal(b, n, len(e.Courses)+len(e.Bad))
			}
			b.ReportMetric(n*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
			length := len(text)
			text = nil
			var m runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&m)
			b.ReportMetric(float64(m.HeapAlloc)/(1<<20), "MB-live")
			b.ReportMetric(float64(length)/n, "B/row")
			runtime.KeepAlive(e)
		})
	}
}
