package app_test

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
)

// demoServer serves the invented hospital and gives a signed-in nurse's client
// and the address of a ward.
func demoServer(b *testing.B) (client *http.Client, base, ward string) {
	b.Helper()
	ctx := context.Background()
	now := time.Now()
	db := filepath.Join(b.TempDir(), "demo.db")
	_, err := app.MakeDemo(ctx, db, 1, now)
	require.NoError(b, err)
	a, err := app.New(ctx, app.Config{DB: db, Clock: func() time.Time { return now }})
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, a.Close()) })
	server := httptest.NewServer(a.Handler)
	b.Cleanup(server.Close)
	jar, err := cookiejar.New(nil)
	require.NoError(b, err)
	client = &http.Client{Jar: jar, Transport: &http.Transport{MaxIdleConnsPerHost: 64, DisableCompression: true}}
	answer, err := client.PostForm(server.URL+"/sign-in", url.Values{"sign_in": {"nurse.birch1"}, "passphrase": {app.DemoPassphrase}})
	require.NoError(b, err)
	page, err := io.ReadAll(answer.Body)
	require.NoError(b, err)
	require.NoError(b, answer.Body.Close())
	return client, server.URL, regexp.MustCompile(`/wards/[0-9a-f]+`).FindString(string(page))
}

func get(b *testing.B, c *http.Client, address string) {
	answer, err := c.Get(address)
	require.NoError(b, err)
	_, err = io.Copy(io.Discard, answer.Body)
	require.NoError(b, err)
	require.NoError(b, answer.Body.Close())
}

// BenchmarkHTTP compares a ward board, warm, with a handler that does nothing
// but answer, in one process: requests a second are what matters.
func BenchmarkHTTP(b *testing.B) {
	client, base, ward := demoServer(b)
	for _, c := range []struct{ name, path string }{{"bare", "/healthz"}, {"board", ward}, {"bare-again", "/healthz"}, {"board-again", ward}} {
		b.Run(c.name, func(b *testing.B) {
			b.RunParallel(func(p *testing.PB) {
				for p.Next() {
					get(b, client, base+c.path)
				}
			})
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "requests/s")
		})
	}
}

// BenchmarkRecord has 50 signed-in clients record reviews over HTTP.
func BenchmarkRecord(b *testing.B) {
	client, base, ward := demoServer(b)
	answer, err := client.Get(base + ward)
	require.NoError(b, err)
	page, err := io.ReadAll(answer.Body)
	require.NoError(b, err)
	require.NoError(b, answer.Body.Close())
	lines := regexp.MustCompile(`/lines/[0-9a-f]+`).FindAllString(string(page), -1)
	require.NotEmpty(b, lines)
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	var n int64
	next := make(chan int64, 64)
	go func() {
		for n = 0; ; n++ {
			next <- n
		}
	}()
	b.ResetTimer()
	b.SetParallelism(25) // times the two processors: 50 clients
	b.RunParallel(func(p *testing.PB) {
		for p.Next() {
			i := <-next
			answer, err := client.PostForm(base+lines[int(i)%len(lines)]+"/review", url.Values{
				"entry": {fmt.Sprintf("bench-%d-%d", b.N, i)}, "when": {"now"}, "nothing_wrong": {"1"},
			})
			require.NoError(b, err)
			require.NoError(b, answer.Body.Close())
			require.Equal(b, http.StatusSeeOther, answer.StatusCode)
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "entries/s")
}
