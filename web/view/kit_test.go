package view

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/a-h/templ"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/static"
)

func render(t *testing.T, c templ.Component) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, c.Render(context.Background(), &b))
	return b.String()
}

// Every site of the vocabulary can be chosen in the list and on the figure, on
// both sides where it has sides.
func TestPlaceFieldOffersEverySite(t *testing.T) {
	t.Parallel()
	html := render(t, PlaceField(Place{Site: "wrist", Side: "left"}))
	for _, site := range line.Site(0).All() {
		require.Contains(t, html, `name="site"`)
		require.Contains(t, html, fmt.Sprintf(`value="%s"`, site))
		sides := []string{"none"}
		if site != line.Scalp {
			sides = []string{"left", "right"}
		}
		for _, side := range sides {
			require.Contains(t, html, fmt.Sprintf(`data-site="%s" data-side="%s"`, site, side))
		}
	}
	require.Regexp(t, `value="wrist" checked`, html)
	require.Regexp(t, `value="left" checked`, html)
	require.Equal(t, 2, strings.Count(html, " checked"))
}

// The figure is for hands: seen as a person faces the reader, the patient's
// right is on the reader's left, so the left half is the mirrored one.
func TestFigureFacesTheReader(t *testing.T) {
	t.Parallel()
	html := render(t, PlaceField(Place{}))
	for _, half := range strings.Split(html, "<g transform=")[1:] {
		mirrored, _, _ := strings.Cut(half, "<path class=\"body hollow\" d=\""+bodyPath[:12])
		mirrored, _, _ = strings.Cut(mirrored, "<ellipse")
		require.NotContains(t, mirrored, `data-side="right"`)
		require.Contains(t, mirrored, `data-side="left"`)
	}
	require.Regexp(t, `<text x="2" [^>]*>.*?right</tspan></text> *<text x="318"`, html)
}

// Hub colours stand in the stylesheet once for each gauge in use, and each has a word.
func TestEveryGaugeHasItsHub(t *testing.T) {
	t.Parallel()
	css, err := os.ReadFile(filepath.Join("..", "static", "dwellbook.css"))
	require.NoError(t, err)
	html := render(t, HubField(Field{Name: "gauge"}, "22"))
	for _, g := range line.Gauges {
		require.Equal(t, 1, strings.Count(string(css), fmt.Sprintf("--hub%d:", g)), g)
		require.Contains(t, string(css), fmt.Sprintf(".g%d {", g))
		require.True(t, words.Known("kit.hub."+g.Colour()), g)
		require.Contains(t, html, fmt.Sprintf(`value="%d"`, g))
	}
	require.Regexp(t, `value="22"[^>]* checked`, html)
}

// Every fixed word that a component says stands in the catalogue.
func TestComponentsHaveTheirWords(t *testing.T) {
	t.Parallel()
	sources, err := filepath.Glob("*.templ")
	require.NoError(t, err)
	require.NotEmpty(t, sources)
	key := regexp.MustCompile(`"(kit\.[a-z.-]*[a-z])"`)
	for _, source := range append(sources, "figure.go") {
		text, err := os.ReadFile(source)
		require.NoError(t, err)
		for _, found := range key.FindAllStringSubmatch(string(text), -1) {
			require.True(t, words.Known(found[1]), "%s: %s", source, found[1])
		}
	}
	for _, s := range []Severity{ActNow, Due, Advise} {
		require.True(t, words.Known("kit.severity."+string(s)))
	}
	for _, how := range []string{"now", "ago", "typed", "day", "unknown"} {
		require.True(t, words.Known("kit.time."+how))
	}
}

func TestFieldTiesItsErrorToTheControl(t *testing.T) {
	t.Parallel()
	f := Field{Name: "ref", Label: "Reference", Hint: "As on the wristband", Error: "Two letters first"}
	html := render(t, TextField(f, Input{Value: `7"<b>`}))
	require.Contains(t, html, `aria-describedby="ref-hint ref-error"`)
	require.Contains(t, html, `aria-invalid="true"`)
	require.Contains(t, html, `value="7&#34;&lt;b&gt;"`)
	require.Contains(t, html, `id="ref-error"`)

	whole := render(t, TextField(Field{Name: "ref"}, Input{}))
	require.NotContains(t, whole, "aria-invalid")
	require.NotContains(t, whole, "aria-describedby")
}

// The summary leads to the first control of a group: only that can take the focus.
func TestGroupsFirstControlHasTheFieldsID(t *testing.T) {
	t.Parallel()
	options := []Option{{Value: "a", Label: "A"}, {Value: "b", Label: "B"}}
	html := render(t, RadioField(Field{Name: "asepsis"}, options, "b", ""))
	require.Regexp(t, `<input type="radio" name="asepsis" id="asepsis" value="a"`, html)
	require.Regexp(t, `id="asepsis-1" value="b" checked`, html)
}

func TestPagesHaveNoInlineStyleOrScript(t *testing.T) {
	t.Parallel()
	row := Row{ID: "r", Severity: Due, Patient: "AX-118", Gauge: 20, Strip: busyStrip(), ActionHref: "/x", Action: "Review"}
	html := render(t, Layout(Shell{Title: "T", SignedIn: true, IdleMinutes: 15, Nav: []NavItem{{Label: "Ward", Href: "/", Current: true}}})) +
		render(t, Board("b", StripAxis{}, []Row{row})) + render(t, StripLegend()) + render(t, PlaceField(Place{Limits: []string{"left-arm", "right-leg"}}))
	require.NotContains(t, html, "style=")
	require.NotContains(t, html, "<style")
	require.NotRegexp(t, `<script(?: [a-z]+)*>`, html)
	require.NotRegexp(t, ` on[a-z]+="`, html)
	require.Contains(t, html, static.URL("dwellbook.js"))
}

// busyStrip is 84 hours back and 12 ahead, with everything a strip can show.
func busyStrip() StripData {
	s := StripData{From: 0, To: 96 * 60, Now: 84 * 60, Placed: 600, PlacedKnown: true, Title: "A line"}
	for h := int64(20); h < 84; h += 8 {
		s.Looks = append(s.Looks, h*60)
	}
	s.Dressings = []int64{50 * 60}
	s.Overdue = [][2]int64{{76 * 60, 84 * 60}}
	s.Nights = [][2]int64{{0, 450}, {1170, 1890}}
	return s
}

func TestStripShowsWhatItIsGiven(t *testing.T) {
	t.Parallel()
	s := busyStrip()
	require.False(t, s.older())
	require.Equal(t, len(s.Looks), strings.Count(s.ticks(), "M"))
	require.Equal(t, "M104 17H875", s.course()) // 10 h and 84 h of 96, in thousandths
	require.Equal(t, []overdueBox{{"79.1%", "8.4%"}}, s.overdue())

	s.Placed = -60
	require.True(t, s.older())
	require.Empty(t, s.start())
	require.Contains(t, render(t, Strip(s)), `d="M8 9 1 17l7 8"`)

	s.Ended = 48 * 60
	require.Equal(t, "M0 17H500M500 4v26", s.course())

	s.Ended = -30
	require.Empty(t, s.course())
	require.False(t, s.older())
}

// A stretch that has only just begun is wide enough to be seen, and no wider
// than the axis.
func TestStripShowsAShortOverdueStretch(t *testing.T) {
	t.Parallel()
	for _, at := range []int64{0, 1, 5000, 96 * 60} {
		s := busyStrip()
		s.Overdue = [][2]int64{{at, at}}
		boxes := s.overdue()
		require.Len(t, boxes, 1, at)
		require.Equal(t, "0.6%", boxes[0].width)
	}
	s := busyStrip()
	s.Overdue = [][2]int64{{-500, -100}, {97 * 60, 98 * 60}}
	require.Empty(t, s.overdue())
}

// Whatever the axis and the moments, nothing is drawn outside it and time runs
// from left to right.
func TestStripStaysOnItsAxis(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		moment := rapid.Int64Range(-1_000_000, 60_000_000)
		s := StripData{From: moment.Draw(t, "from"), To: moment.Draw(t, "to")}
		a, b := moment.Draw(t, "a"), moment.Draw(t, "b")
		if a > b {
			a, b = b, a
		}
		require.GreaterOrEqual(t, s.at(a), 0)
		require.LessOrEqual(t, s.at(b), stripParts)
		require.LessOrEqual(t, s.at(a), s.at(b))
		s.Overdue = [][2]int64{{a, b}}
		for _, box := range s.overdue() {
			x, err := strconv.ParseFloat(strings.TrimSuffix(box.x, "%"), 64)
			require.NoError(t, err)
			width, err := strconv.ParseFloat(strings.TrimSuffix(box.width, "%"), 64)
			require.NoError(t, err)
			require.GreaterOrEqual(t, x, 0.0)
			require.LessOrEqual(t, x+width, 100.7)
		}
	})
}

func BenchmarkBoardOf60(b *testing.B) {
	rows := make([]Row, 60)
	for i := range rows {
		rows[i] = Row{ID: "line-" + strconv.Itoa(i), Severity: Due, Bed: strconv.Itoa(i), Patient: "AX-118", PatientHref: "/line/x", Gauge: 20,
			Place: "Forearm, left", Strip: busyStrip(), Dwell: "in 2 d", Next: "next look by 19:30", ActionHref: "/x", Action: "Review",
			Findings: []FindingData{{Severity: Due, Text: "No look recorded for 2 shifts"}}}
	}
	b.ReportAllocs()
	for b.Loop() {
		if err := Board("rows", StripAxis{To: 96 * 60}, rows).Render(context.Background(), io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}

// Away from its field, what is wrong says which field it is about.
func TestErrorSummaryNamesTheField(t *testing.T) {
	t.Parallel()
	html := render(t, FormErrors(Form{Message: "Look again.", Errors: map[string]string{
		"gauge": "Choose one.", "side": "Choose a side.", "attempt.2.result": "Choose how it went.", "elsewhere": "Say more.",
	}}))
	for _, want := range []string{">Gauge: Choose one.<", ">Side of the patient: Choose a side.<", ">Attempt 2, How it went: Choose how it went.<", ">Say more.<"} {
		require.Contains(t, html, want)
	}
}

// A date picker blanks what it cannot read; what was typed must stay.
func TestTextField_KeepsWhatIsNoDate(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{"yesterday": `type="text"`, "2026-10-20": `type="date"`, "": `type="date"`} {
		page := render(t, TextField(Field{Name: "from", Label: "From"}, Input{Type: "date", Value: typed}))
		require.Contains(t, page, want, typed)
		if typed != "" {
			require.Contains(t, page, `value="`+typed+`"`)
		}
	}
}
