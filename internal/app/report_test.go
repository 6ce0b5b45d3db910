package app_test

import (
	"bytes"
	"context"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
	"dwellbook/internal/proof"
)

// A month's report is one file that fetches nothing, tells every section, and
// names neither a patient nor a member of staff.
func TestReport_StandsAloneAndNamesNobody(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	db := filepath.Join(t.TempDir(), "record.db")
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	clock := func() time.Time { return now }
	_, err := app.MakeDemo(ctx, db, 1, now)
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, app.Report(ctx, &out, app.ReportQuery{DB: db, Month: "2026-10"}, clock))
	page := out.String()
	require.Contains(t, page, "Peripheral cannulas, October 2026")
	for _, heading := range []string{"By duty, whole hospital", "Looks at the site, by ward", "Looks at the site, by shift", "Longest stretches overdue", "Findings by rule", "What the figures mean", "Rules in force"} {
		require.Contains(t, page, heading)
	}
	require.NotRegexp(t, regexp.MustCompile(`(?i)(src|href)="(https?:)?/`), page, "it fetches or links to nothing")
	require.NotContains(t, page, "url(")
	require.NotContains(t, page, "<script")
	require.NotContains(t, page, "{{")
	require.NotContains(t, page, "Head of the record", "none was signed yet")
	head, err := app.Head(ctx, db, clock)
	require.NoError(t, err)
	out.Reset()
	require.NoError(t, app.Report(ctx, &out, app.ReportQuery{DB: db, Month: "2026-10"}, clock))
	signed, err := proof.ReadHead([]byte(head))
	require.NoError(t, err)
	require.Contains(t, out.String(), "Head of the record")
	require.Contains(t, out.String(), signed.Root.String())
	a, err := app.New(ctx, app.Config{DB: db, Clock: clock})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Close()) })
	h, err := a.Desk.House(ctx)
	require.NoError(t, err)
	require.NotEmpty(t, h.People)
	for _, p := range h.People {
		require.NotContains(t, page, p.Name)
	}
	require.NotRegexp(t, regexp.MustCompile(h.Hospital.Reference), page, "no patient's reference")

	require.ErrorContains(t, app.Report(ctx, &out, app.ReportQuery{DB: db, Month: "October"}, clock), "2026-10")
}
