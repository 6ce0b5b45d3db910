package app_test

import (
	"bytes"
	"encoding/json"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkAuditCommand runs the command itself on a record of a million past
// lines and asks about a moment five years back at which 500 were in: wall
// seconds and the most memory the process held. Aim: under 1 s and 200 MB.
func BenchmarkAuditCommand(b *testing.B) {
	file := pastFile(b, manyLines)
	binary := filepath.Join(b.TempDir(), "dwellbook")
	out, err := exec.CommandContext(b.Context(), "go", "build", "-o", binary, "dwellbook/cmd/server").CombinedOutput()
	require.NoError(b, err, "%s", out)
	at := present.AddDate(-pastYears/2, 0, 0).Format(time.RFC3339)
	var seconds, megabytes []float64
	for b.Loop() {
		start := time.Now()
		c := exec.CommandContext(b.Context(), binary, "audit", "-db", file, "-at", at, "-json")
		var answer bytes.Buffer
		c.Stdout = &answer
		require.NoError(b, c.Run())
		seconds = append(seconds, time.Since(start).Seconds())
		usage, ok := c.ProcessState.SysUsage().(*syscall.Rusage)
		require.True(b, ok)
		megabytes = append(megabytes, float64(usage.Maxrss)/1024)
		var told struct {
			Lines int `json:"lines_in_situ"`
		}
		require.NoError(b, json.Unmarshal(answer.Bytes(), &told))
		require.InDelta(b, 500, told.Lines, 2)
	}
	b.ReportMetric(median(seconds), "s")
	b.ReportMetric(median(megabytes), "MB")
	b.ReportMetric(float64(len(seconds)), "runs")
	b.ReportMetric(0, "ns/op")
}
