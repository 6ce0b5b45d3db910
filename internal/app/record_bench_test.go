package app_test

import (
	"context"
	"database/sql"
	"fmt"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// byTurns runs two sides one after the other, again and again, changing which
// comes first, and reports the medians of their rates and of left over right:
// so both see the same machine. Each side does some work and gives its rate.
func byTurns(b *testing.B, left, right func(round int) float64) {
	var lefts, rights, ratios []float64
	round := 0
	left(-2)
	right(-1)
	for b.Loop() {
		var l, r float64
		if round%2 == 0 {
			l, r = left(round), right(round)
		} else {
			r, l = right(round), left(round)
		}
		lefts, rights, ratios = append(lefts, l), append(rights, r), append(ratios, l/r)
		round++
	}
	b.ReportMetric(median(lefts), "left/s")
	b.ReportMetric(median(rights), "right/s")
	b.ReportMetric(median(ratios), "ratio")
	b.ReportMetric(float64(round), "rounds")
	b.ReportMetric(0, "ns/op")
}

func median(list []float64) float64 {
	list = slices.Sorted(slices.Values(list))
	return list[len(list)/2]
}

// together has so many goroutines share n pieces of work, and gives the pieces a second.
func together(people, n int, do func(person, i int)) float64 {
	start := time.Now()
	var all sync.WaitGroup
	for p := range people {
		all.Go(func() {
			for i := p; i < n; i += people {
				do(p, i)
			}
		})
	}
	all.Wait()
	return float64(n) / time.Since(start).Seconds()
}

// BenchmarkRecording compares 50 people, each signed in, who record reviews
// over HTTP with one goroutine that inserts the same rows straight into the
// driver, one transaction each, on the same disk. Aim: at least 1.5.
func BenchmarkRecording(b *testing.B) {
	const people, reviews, patients = 50, 1000, 50
	a, err := app.New(b.Context(), app.Config{DB: filepath.Join(b.TempDir(), "record.db")})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, a.Close()) })
	server := httptest.NewServer(a.Handler)
	b.Cleanup(server.Close)
	nurse := staff(b, a)
	clients := make([]*http.Client, people)
	for i := range clients {
		clients[i] = signedIn(b, server.URL)
	}
	http50 := func(round int) float64 {
		for p := range patients {
			placed(b, a, nurse, line.ID(fmt.Sprintf("%d-%d", round, p)))
		}
		return together(people, reviews, func(person, i int) {
			address := fmt.Sprintf("%s/lines/%d-%d/review", server.URL, round, i%patients)
			answer, err := clients[person].PostForm(address, url.Values{
				"entry": {fmt.Sprintf("look-%d-%d", round, i)}, "when": {"now"}, "nothing_wrong": {"1"},
			})
			if err != nil || answer.StatusCode != http.StatusSeeOther {
				b.Error("a review was not recorded", err)
				return
			}
			_ = answer.Body.Close()
		})
	}
	byTurns(b, http50, straight(b, reviews))
}

func staff(b *testing.B, a *app.App) desk.Person {
	nurse, err := a.Desk.OpenAccount(b.Context(), desk.System(), desk.NewAccount{
		ID: "nurse", SignIn: "nurse", Name: "Somebody", Initials: "SB", Role: account.Nurse, Passphrase: passphrase,
	})
	require.NoError(b, err)
	require.NoError(b, a.Desk.SetWard(b.Context(), desk.System(), line.Ward{Ward: "alder", Name: "Alder", Zone: "Europe/London"}))
	return nurse
}

func signedIn(b *testing.B, base string) *http.Client {
	jar, err := cookiejar.New(nil)
	require.NoError(b, err)
	client := &http.Client{
		Jar: jar, Transport: &http.Transport{DisableCompression: true},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	answer, err := client.PostForm(base+"/sign-in", url.Values{"sign_in": {"nurse"}, "passphrase": {passphrase}})
	require.NoError(b, err)
	require.NoError(b, answer.Body.Close())
	require.Equal(b, http.StatusSeeOther, answer.StatusCode)
	return client
}

// placed admits a patient and places a line, both under the id.
func placed(b *testing.B, a *app.App, nurse desk.Person, id line.ID) {
	entry := func(of, on line.ID, body line.Body) line.Entry {
		return line.Entry{ID: id + of, Kind: body.Kind(), Subject: id, Line: on, Happened: a.Desk.Now() - 60, Precision: line.ToMinute, Body: body}
	}
	_, err := a.Desk.Record(b.Context(), nurse, desk.Act{BedConfirmed: true, Entries: []line.Entry{
		entry(".in", "", line.Admission{Ward: "alder", Bed: line.Text(id)}),
		entry(".place", id, line.Occasion{
			Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Dressing: line.Film,
			Attempts: []line.Attempt{{Operator: line.Operator{Account: "nurse"}}},
		}),
	}})
	require.NoError(b, err)
}

// straight gives a side that inserts the rows a review is made of: the entry,
// its mark and its place in the history.
func straight(b *testing.B, n int) func(round int) float64 {
	ctx := context.Background()
	file := filepath.Join(b.TempDir(), "straight.db")
	a, err := app.New(ctx, app.Config{DB: file}) // for the tables
	require.NoError(b, err)
	require.NoError(b, a.Close())
	db, err := sql.Open("sqlite", "file:"+file+"?_journal_mode=WAL&_synchronous=FULL&_txlock=immediate")
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, db.Close()) })
	db.SetMaxOpenConns(1)
	seq := 0
	return func(int) float64 {
		// Its bytes are made beforehand: this side only writes.
		looks := make([][]byte, n)
		for i := range looks {
			looks[i], _, err = line.Canonical(line.Entry{
				ID: look(seq + i + 1), Kind: line.KindReview, Subject: "patient", Line: "line", Author: "nurse", Version: line.FormatVersion,
				Happened: line.MinuteOf(time.Now()), Recorded: time.Now(), Precision: line.ToMinute, Body: line.Review{},
			}, nil)
			require.NoError(b, err)
		}
		return together(1, n, func(_, i int) {
			seq++
			if err := insertReview(ctx, db, seq, looks[i]); err != nil {
				b.Error(err)
			}
		})
	}
}

func look(seq int) line.ID { return line.ID(fmt.Sprintf("look-%d", seq)) }

func insertReview(ctx context.Context, db *sql.DB, seq int, raw []byte) error {
	patient := seq % 50
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }()
	for _, row := range []struct {
		text string
		args []any
	}{
		{"INSERT INTO entry (seq, id, kind, subject, root, recorded_ms, received_ms, format, canonical) VALUES (?, ?, 4, ?, ?, 1, 1, 1, ?)",
			[]any{seq, string(look(seq)), patient, seq, raw}},
		{"INSERT INTO mark (subject, line, happened, seq, known, part, gone, kind, precision, ward, until, a, b, c) VALUES (?, ?, 1, ?, ?, 0, 0, 4, 1, 0, 0, 1, 2, 3)",
			[]any{patient, patient, seq, seq}},
		{"INSERT INTO history (subject, seq, away) VALUES (?, ?, 0)", []any{patient, seq}},
	} {
		if _, err := tx.ExecContext(ctx, row.text, row.args...); err != nil {
			return err
		}
	}
	return tx.Commit()
}
