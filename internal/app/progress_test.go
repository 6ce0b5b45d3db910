package app_test

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// tries records occasions by the doctor, in their own name, of which each third
// first attempt fails.
func (s *scene) tries(t testing.TB, n int) {
	t.Helper()
	ctx := context.Background()
	doctor, err := s.app.Desk.Person(ctx, "person-doctor")
	require.NoError(t, err)
	began := s.app.Desk.Now() - line.Minute(10*n) - 600
	entry := func(id, on line.ID, at line.Minute, body line.Body) line.Entry {
		return line.Entry{ID: id, Kind: body.Kind(), Subject: "patient-2", Line: on, Happened: at, Precision: line.ToMinute, Body: body}
	}
	_, err = s.app.Desk.Record(ctx, doctor, desk.Act{Entries: []line.Entry{
		entry("begun", "", began-10, line.Admission{Ward: "alder", Bed: "3", Reference: "KD-305"}),
	}})
	require.NoError(t, err)
	own := line.Operator{Account: "person-doctor"}
	for i := range n {
		at, on := began+line.Minute(10*i), line.ID(fmt.Sprintf("own-%d", i))
		attempts := []line.Attempt{{Operator: own, Site: line.Forearm, Side: line.Left, Gauge: 20}}
		if i%3 == 0 {
			failed := line.Attempt{Operator: own, Site: line.HandDorsum, Side: line.Right, Gauge: 20, Failed: true, Fault: line.WouldNotAdvance}
			attempts = append([]line.Attempt{failed}, attempts...)
		}
		_, err := s.app.Desk.Record(ctx, doctor, desk.Act{Entries: []line.Entry{
			entry(on+"-in", on, at, line.Occasion{Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Dressing: line.Film, Attempts: attempts}),
			entry(on+"-out", on, at+5, line.Removal{Reason: line.NotNeeded}),
		}})
		require.NoError(t, err)
	}
}

func TestMyRecord_TellsOfLearningByTheUnitAsked(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	doctor, page := s.client(t, account.Doctor), s.server.URL+"/my-record"
	s.tries(t, 9)
	few := body(t, doctor, page)
	require.Contains(t, few, "Fewer than 10 first attempts: the chart can say nothing yet.")
	require.NotContains(t, few, `id="chart-learning-wide"`)

	s = newScene(t)
	doctor, page = s.client(t, account.Doctor), s.server.URL+"/my-record"
	s.tries(t, 30)
	told := body(t, doctor, page)
	require.Contains(t, told, `id="chart-learning-wide"`)
	require.Contains(t, told, "each first attempt counted")
	require.Contains(t, told, "20 of 30", "first attempts, a third of which failed")
	require.Contains(t, told, "tripped once in about 512 by chance")
	require.Contains(t, told, "own record is too small yet")
	require.Contains(t, told, "Common practice, no source")
	every := body(t, doctor, page+"?unit=attempt&by=gauge")
	require.Contains(t, every, "each attempt counted")
	require.Contains(t, every, "30 of 40")

	answer, err := doctor.Get(page + "?unit=month&by=moon")
	require.NoError(t, err)
	text, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, string(text), "Choose one of the list.")
}

func TestPortfolio_NamesNoPatient(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.tries(t, 12)
	doctor := s.client(t, account.Doctor)
	paper, sheet := body(t, doctor, s.server.URL+"/my-record/portfolio"), body(t, doctor, s.server.URL+"/my-record/attempts.csv")
	for _, text := range []string{paper, sheet} {
		for _, named := range []string{"KD-305", "KD-204", "patient-", "own-1"} {
			require.NotContains(t, text, named)
		}
	}
	require.Contains(t, paper, "Supervisor: name, signature, date")
	rows, err := csv.NewReader(strings.NewReader(sheet)).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 1+12+4, "a heading, and each attempt")
	require.Equal(t, []string{"1", "2", "hand-dorsum", "right", "20"}, rows[1][1:6])
	require.Equal(t, []string{"failed", "flashback-would-not-advance"}, rows[1][7:9])
	admin := s.client(t, account.Administrator)
	answer, err := admin.Get(s.server.URL + "/my-record/portfolio")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusForbidden, answer.StatusCode)
}

// BenchmarkMyRecord is the page of a doctor with 2,000 attempts, over HTTP. Aim:
// under 60 ms.
func BenchmarkMyRecord(b *testing.B) {
	s := newScene(b)
	s.tries(b, 1500) // 2,000 attempts
	doctor := s.client(b, account.Doctor)
	body(b, doctor, s.server.URL+"/my-record")
	for b.Loop() {
		body(b, doctor, s.server.URL+"/my-record")
	}
}
