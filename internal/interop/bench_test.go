package interop_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

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
