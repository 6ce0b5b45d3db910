package store_test

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

const crashFile = "RECORD_TO_WRITE_UNTIL_KILLED"

// TestMain is also the process that is killed: with a file in its environment
// it records into that, from many goroutines, and prints the id of each entry
// once it is acknowledged.
func TestMain(m *testing.M) {
	if path := os.Getenv(crashFile); path != "" {
		if err := writeForEver(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

func writeForEver(path string) error {
	ctx := context.Background()
	s, err := store.Open(ctx, path, store.Options{})
	if err != nil {
		return err
	}
	failed := make(chan error)
	acknowledged := make(chan line.ID)
	for g := range 8 {
		go func() {
			for n := 0; ; n++ {
				id := fmt.Sprintf("%d-%d", g, n)
				w := &ward{}
				batch := []line.Entry{w.admission(line.ID("p"+id), 0, "north"), w.placement(line.ID("p"+id), line.ID("l"+id), 1)}
				for i := range batch {
					batch[i].ID = line.ID(fmt.Sprintf("e%s-%d", id, i))
				}
				if _, err := s.Append(ctx, line.Batch{Entries: batch}); err != nil {
					failed <- err
					return
				}
				acknowledged <- batch[0].ID
			}
		}()
	}
	for {
		select {
		case err := <-failed:
			return err
		case id := <-acknowledged:
			fmt.Println(id)
		}
	}
}

func TestAppend_WhatWasAcknowledgedSurvivesAKill(t *testing.T) {
	t.Parallel()
	path := freshFile(t)
	self, err := os.Executable()
	require.NoError(t, err)
	for round := range 3 {
		child := exec.CommandContext(t.Context(), self)
		child.Env = append(os.Environ(), fmt.Sprintf("%s=%s", crashFile, path))
		child.Stderr = os.Stderr
		out, err := child.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, child.Start())
		var acknowledged []line.ID
		for lines := bufio.NewScanner(out); lines.Scan(); {
			id := line.ID(strings.TrimSpace(lines.Text()))
			acknowledged = append(acknowledged, id)
			if len(acknowledged) == 100 {
				require.NoError(t, child.Process.Kill())
			}
		}
		require.Error(t, child.Wait(), "it was killed")
		require.GreaterOrEqual(t, len(acknowledged), 100)

		s := openFile(t, path, store.Options{})
		for _, id := range acknowledged {
			_, err := s.Entry(t.Context(), id)
			require.NoError(t, err, "round %d, entry %s", round, id)
		}
		all := sealed(t, s)
		require.Zero(t, len(all)%2, "none half")
		require.NoError(t, s.Check(t.Context()))
		requireRebuilt(t, s)
		require.NoError(t, s.Close())
		// The next round's ids must be new ones: it begins a new file.
		path = freshFile(t)
	}
}
