package app_test

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
	"dwellbook/migrations"
)

// present is "now" in the files of past lines, which are made once and kept.
var present = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

func presentClock() time.Time { return present }

const (
	pastYears = 10
	// dwell makes 500 of a million lines be in at any moment of ten years.
	dwell      = pastYears * 365 * 24 * 60 * 500 / 1_000_000
	perPatient = 3
	portion    = 10_000 // entries stored together
)

// pastFile gives a record with so many past lines, of two entries each, spread
// evenly over ten years, and one ward with 60 lines in.
func pastFile(b *testing.B, lines int) string {
	b.Helper()
	return kept(b, fmt.Sprintf("past-%d", lines), func(path string) { makePast(b, path, lines) })
}

// kept gives a record that is made once and kept in the user's cache, by its
// name and by the shape of the tables.
func kept(b *testing.B, name string, fill func(path string)) string {
	b.Helper()
	if testing.Short() {
		b.Skip("the file takes minutes to make")
	}
	cache, err := os.UserCacheDir()
	require.NoError(b, err)
	dir := filepath.Join(cache, "dwellbook-bench")
	require.NoError(b, os.MkdirAll(dir, 0o700))
	path := filepath.Join(dir, name+"-"+shape(b)+".db")
	if _, err := os.Stat(path); err == nil {
		return path
	}
	making := path + ".making"
	for _, of := range []string{"", "-wal", "-shm"} {
		_ = os.Remove(making + of)
	}
	start := time.Now()
	fill(making)
	require.NoError(b, os.Rename(making, path))
	b.Logf("made %s in %s", path, time.Since(start).Round(time.Second))
	return path
}

// shape tells files with other tables apart.
func shape(b *testing.B) string {
	sum := sha256.New()
	names, err := fs.Glob(migrations.Files, "*.sql")
	require.NoError(b, err)
	for _, name := range names {
		text, err := fs.ReadFile(migrations.Files, name)
		require.NoError(b, err)
		sum.Write(text)
	}
	return fmt.Sprintf("%x", sum.Sum(nil)[:4])
}

func makePast(b *testing.B, path string, lines int) {
	st, err := store.Open(b.Context(), path, store.Options{Clock: presentClock})
	require.NoError(b, err)
	var entries []line.SealedEntry
	put := func(e line.Entry) {
		e.Version, e.Author, e.Precision, e.Kind, e.Recorded = line.FormatVersion, "nurse", line.ToMinute, e.Body.Kind(), e.Happened.Time()
		raw, texts, err := line.Canonical(e, func() string { return "salt" })
		require.NoError(b, err)
		entries = append(entries, line.SealedEntry{Canonical: raw, Texts: texts})
	}
	flush := func() {
		_, err := st.AppendSealed(context.Background(), entries)
		require.NoError(b, err)
		entries = entries[:0]
	}
	for i := range lines {
		id := line.ID(fmt.Sprintf("%07d", i))
		placed := line.MinuteOf(present) - pastYears*365*24*60 + line.Minute(int64(i)*(pastYears*365*24*60-dwell-1)/int64(lines))
		patient := "past-" + line.ID(fmt.Sprintf("%07d", i/perPatient))
		put(line.Entry{ID: id + ".in", Subject: patient, Line: id, Happened: placed, Body: occasion})
		put(line.Entry{ID: id + ".out", Subject: patient, Line: id, Happened: placed + dwell, Body: line.Removal{Reason: line.NotNeeded}})
		if len(entries) >= portion {
			flush()
		}
	}
	flush()
	require.NoError(b, st.Close())
	a, err := app.New(b.Context(), app.Config{DB: path, Clock: presentClock})
	require.NoError(b, err)
	nurse := staff(b, a)
	for p := range 60 {
		placed(b, a, nurse, line.ID(fmt.Sprintf("here-%02d", p)))
	}
	require.NoError(b, a.Close())
}

var occasion = line.Occasion{
	Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Dressing: line.Film,
	Attempts: []line.Attempt{{Operator: line.Operator{Account: "nurse"}}},
}

// Records of the two sizes that are compared.
const (
	manyLines = 1_000_000
	fewLines  = 10_000
)

// BenchmarkColdBoard compares the board of a ward with 60 lines, of which
// nothing is remembered, with few and with many past lines in the file. The
// ratio is how much longer it takes with many. Aim: at most 1.5.
func BenchmarkColdBoard(b *testing.B) {
	cold := func(lines int) func(int) float64 {
		st, err := store.OpenReadOnly(b.Context(), pastFile(b, lines))
		require.NoError(b, err)
		b.Cleanup(func() { require.NoError(b, st.Close()) })
		return func(int) float64 {
			return together(1, 20, func(_, _ int) {
				board, err := desk.New(st, presentClock).Board(b.Context(), desk.System(), "alder")
				if err != nil || len(board.Rows) != 60 {
					b.Error("not the ward's board", err)
				}
			})
		}
	}
	byTurns(b, cold(fewLines), cold(manyLines))
}

// BenchmarkWarmBoard compares the page of a ward with 60 lines, over HTTP and
// with nothing changed since it was last asked for, with a handler that only
// answers, behind the same router. Aim: at least 0.08 of its requests a second.
func BenchmarkWarmBoard(b *testing.B) {
	file := filepath.Join(b.TempDir(), "record.db")
	few, err := os.ReadFile(pastFile(b, fewLines))
	require.NoError(b, err)
	require.NoError(b, os.WriteFile(file, few, 0o600))
	a, err := app.New(b.Context(), app.Config{DB: file, Clock: presentClock})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, a.Close()) })
	router := chi.NewRouter()
	router.Get("/wards/{ward}", func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("ok")) })
	asking := func(h http.Handler, signIn bool) func(int) float64 {
		server := httptest.NewServer(h)
		b.Cleanup(server.Close)
		client := server.Client()
		if signIn {
			client = signedIn(b, server.URL)
		}
		const people, requests = 8, 2000
		client.Transport = &http.Transport{MaxIdleConnsPerHost: people, DisableCompression: true}
		return func(int) float64 {
			return together(people, requests, func(_, _ int) {
				answer, err := client.Get(server.URL + "/wards/alder")
				if err != nil || answer.StatusCode != http.StatusOK {
					b.Error("no board", err)
					return
				}
				_, _ = io.Copy(io.Discard, answer.Body)
				_ = answer.Body.Close()
			})
		}
	}
	byTurns(b, asking(a.Handler, true), asking(router, false))
}
