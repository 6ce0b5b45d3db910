package app_test

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// fillWard puts n patients with a line each on the ward, in beds A1 to An,
// with from nothing to several things due.
func fillWard(t *testing.T, s *scene, n int) {
	t.Helper()
	nurse := s.person(t, "person-nurse")
	at := s.app.Desk.Now() - 30*60
	for i := 1; i <= n; i++ {
		entry := func(kind string, after line.Minute, body line.Body) line.Entry {
			e := line.Entry{
				ID: line.ID(fmt.Sprintf("%s-%d", kind, i)), Kind: body.Kind(), Subject: line.ID(fmt.Sprintf("many-%d", i)), Happened: at + after,
				Precision: line.ToMinute, Body: body,
			}
			if kind != "admitted" {
				e.Line = line.ID(fmt.Sprintf("many-line-%d", i))
			}
			return e
		}
		entries := []line.Entry{
			entry("admitted", 0, line.Admission{Ward: "alder", Bed: line.Text(fmt.Sprintf("A%d", i)), Reference: line.Text(fmt.Sprintf("QR-%03d", i))}),
			entry("placed", 1, line.Occasion{
				Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Dressing: line.Film,
				Attempts: []line.Attempt{{Operator: line.Operator{Account: "person-doctor"}}},
			}),
		}
		if i%3 == 0 {
			entries = append(entries, entry("looked", 120, line.Review{Signs: line.SetOf(line.Pain, line.Redness), Needed: line.No}))
		}
		_, err := s.app.Desk.Record(t.Context(), nurse, desk.Act{Entries: entries})
		require.NoError(t, err)
	}
}

func TestHandover_ListsLinesInBedOrderWithWhatIsDue(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	fillWard(t, s, 11)
	sheet, err := s.app.Desk.Handover(t.Context(), s.person(t, "person-nurse"), "alder", false)
	require.NoError(t, err)
	var beds []string
	for _, l := range sheet.Lines {
		beds = append(beds, l.Patient.Bed)
	}
	require.Equal(t, []string{"2", "A1", "A2", "A3", "A4", "A5", "A6", "A7", "A8", "A9", "A10", "A11"}, beds)
	// Of the scene's line, placed at 10:10: the look of the shift that ends at 19:30.
	require.Empty(t, sheet.Lines[0].Findings)
	require.Len(t, sheet.Lines[0].Due, 1)
	require.Equal(t, line.MinuteOf(time.Date(2026, 3, 4, 19, 30, 0, 0, time.UTC)), sheet.Lines[0].Due[0].Due)

	text := body(t, s.client(t, account.Nurse), s.server.URL+"/wards/alder/handover")
	require.Contains(t, text, "look by 19:30")
	require.Contains(t, text, "policy: removal (score), due since Tue 12:10")
	require.Contains(t, text, "need to be recorded, due since 09:11")
	require.Contains(t, text, "known up to entry #")
	require.Contains(t, text, "Follow your local policy")
	require.Contains(t, body(t, s.client(t, account.Nurse), s.server.URL+"/wards/alder"), `href="/wards/alder/handover"`)
	answer, err := s.client(t, account.Administrator).Get(s.server.URL + "/wards/alder/handover")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusForbidden, answer.StatusCode)
}

func TestHandover_WatchesTheSiteOfALineThatCameOut(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	_, err := s.app.Desk.Record(t.Context(), s.person(t, "person-nurse"), desk.Act{Entries: []line.Entry{{
		ID: "out", Kind: line.KindRemoval, Subject: "patient-1", Line: "line-1", Happened: s.app.Desk.Now() - 60, Precision: line.ToMinute,
		Body: line.Removal{Reason: line.Phlebitis, Signs: line.SetOf(line.Pain, line.Redness), Complete: line.Yes},
	}}})
	require.NoError(t, err)
	sheet, err := s.app.Desk.Handover(t.Context(), s.person(t, "person-nurse"), "alder", false)
	require.NoError(t, err)
	require.Len(t, sheet.Lines, 1)
	require.NotEqual(t, line.Far, sheet.Lines[0].Out)
	text := body(t, s.client(t, account.Nurse), s.server.URL+"/wards/alder/handover")
	require.Contains(t, text, "site-check by 19:30")
	require.Contains(t, text, "out 14:10")
}

func TestHandover_OfTheNextShiftSaysWhatItWillFind(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.person(t, "person-nurse")
	sheet, err := s.app.Desk.Handover(t.Context(), nurse, "alder", true)
	require.NoError(t, err)
	evening := line.MinuteOf(time.Date(2026, 3, 4, 19, 30, 0, 0, time.UTC))
	require.Equal(t, evening, sheet.Shift.From)
	require.Len(t, sheet.Lines, 1)
	require.Len(t, sheet.Lines[0].Findings, 1, "this shift's look, if nobody looks")
	require.Equal(t, evening, sheet.Lines[0].Findings[0].Since)
	require.Equal(t, evening+12*60, sheet.Lines[0].Due[len(sheet.Lines[0].Due)-1].Due)

	recordLook(t, s, "look-1", s.now)
	sheet, err = s.app.Desk.Handover(t.Context(), nurse, "alder", true)
	require.NoError(t, err)
	require.Empty(t, sheet.Lines[0].Findings)
	require.Equal(t, evening+12*60, sheet.Lines[0].Due[0].Due, "the night's look")
	require.Contains(t, body(t, s.client(t, account.Nurse), s.server.URL+"/wards/alder/handover?shift=next"), "as it will stand at 19:30 if nothing more is recorded")
}

// printed is the page as a PDF of A4.
func printed(t *testing.T, ctx context.Context, url string) string {
	t.Helper()
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(url)))
	pdf, err := chromedp.Run(ctx, func(ctx context.Context, target *chromedp.Target) ([]byte, error) {
		result, err := cdp.Call(ctx, target, page.PrintToPDF, page.PrintToPDFParams{
			PaperWidth: 8.27, PaperHeight: 11.69, PreferCSSPageSize: new(true), GenerateTaggedPDF: new(true),
		})
		return result.Data, err
	})
	require.NoError(t, err)
	if to := os.Getenv("PDF"); to != "" {
		require.NoError(t, os.WriteFile(to, pdf, 0o600))
	}
	return string(pdf)
}

var (
	pdfPage   = regexp.MustCompile(`/Type /Page\s`)
	pdfObject = regexp.MustCompile(`(?s)\n(\d+) 0 obj\n(.*?)\nendobj`)
	pdfParent = regexp.MustCompile(`/P (\d+) 0 R`)
	pdfOnPage = regexp.MustCompile(`/Pg (\d+) 0 R`)
)

// rowsOnPages gives, for each table row of a tagged PDF, the pages on which
// something of it stands (ISO 32000-1, 14.7: a structure element names its
// parent in P and the page of its content in Pg).
func rowsOnPages(pdf string) map[string]map[string]bool {
	elements := map[string]string{}
	for _, m := range pdfObject.FindAllStringSubmatch(pdf, -1) {
		if strings.Contains(m[2], "/StructElem") {
			elements[m[1]] = m[2]
		}
	}
	rows := map[string]map[string]bool{}
	for id, element := range elements {
		pages := pdfOnPage.FindAllStringSubmatch(element, -1)
		for len(pages) > 0 && element != "" {
			if strings.Contains(element, "/S /TR") {
				if rows[id] == nil {
					rows[id] = map[string]bool{}
				}
				for _, p := range pages {
					rows[id][p[1]] = true
				}
				break
			}
			parent := pdfParent.FindStringSubmatch(element)
			if parent == nil {
				break
			}
			id, element = parent[1], elements[parent[1]]
		}
	}
	return rows
}

func TestBrowser_AHandoverSheetOfSixtyLinesBreaksBetweenRows(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	fillWard(t, s, 59) // with the scene's own, 60
	signIn(t, ctx, s, account.Nurse)
	pdf := printed(t, ctx, s.server.URL+"/wards/alder/handover")
	pages := len(pdfPage.FindAllString(pdf, -1))
	require.Greater(t, pages, 1)
	require.LessOrEqual(t, pages, 5)
	rows := rowsOnPages(pdf)
	used, split := map[string]bool{}, 0
	for _, on := range rows {
		if len(on) > 1 {
			split++
		}
		for p := range on {
			used[p] = true
		}
	}
	require.GreaterOrEqual(t, len(rows), 61, "60 lines and the heading")
	require.Len(t, used, pages, "rows stand on every page")
	require.LessOrEqual(t, split, 1, "only the heading's row stands on several pages")
}

func TestBrowser_AHandoverSheetOfAWardIsOnePage(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	fillWard(t, s, 15)
	signIn(t, ctx, s, account.Nurse)
	require.Len(t, pdfPage.FindAllString(printed(t, ctx, s.server.URL+"/wards/alder/handover"), -1), 1)
}

func TestBrowser_ACalendarPrintsOnOnePage(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newScene(t)
	s.now = time.Date(2026, 4, 2, 12, 0, 0, 0, time.UTC)
	signIn(t, ctx, s, account.Lead)
	require.Len(t, pdfPage.FindAllString(printed(t, ctx, s.server.URL+"/calendar/alder?month=2026-03"), -1), 1)
}
