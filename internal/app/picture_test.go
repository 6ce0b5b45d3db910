package app_test

import (
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
)

// TestBrowser_DrawsTheReadmesPicture makes the picture of the README's ward
// board: `make picture`.
func TestBrowser_DrawsTheReadmesPicture(t *testing.T) {
	to := os.Getenv("PICTURE")
	if to == "" {
		t.Skip("set PICTURE to the file to draw")
	}
	ctx := browser(t)
	now := time.Date(2026, 11, 25, 15, 10, 0, 0, time.UTC)
	db := filepath.Join(t.TempDir(), "demo.db")
	_, err := app.MakeDemo(ctx, db, 1, now)
	require.NoError(t, err)
	a, err := app.New(ctx, app.Config{DB: db, Clock: func() time.Time { return now }})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Close()) })
	server := httptest.NewServer(a.Handler)
	t.Cleanup(server.Close)
	require.NoError(t, chromedp.Do(ctx,
		chromedp.EmulateViewport(1280, 800),
		chromedp.Navigate(server.URL+"/sign-in"),
		chromedp.SendKeys(chromedp.CSS(`[name="sign_in"]`), "nurse.birch1"),
		chromedp.SendKeys(chromedp.CSS(`[name="passphrase"]`), app.DemoPassphrase),
		chromedp.Click(chromedp.CSS(`main form button`)),
		chromedp.Click(chromedp.CSS(`.greeting button`)),
		chromedp.WaitVisible(chromedp.CSS(`main section a`)),
		chromedp.Click(chromedp.CSS(`main section:nth-of-type(2) h2 a`)),
		chromedp.WaitVisible(chromedp.CSS(`#ward-lines`)),
	))
	picture, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	require.NoError(t, err)
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("about:blank"))) // ends the board's stream
	require.NoError(t, os.WriteFile(to, picture, 0o600))
}
