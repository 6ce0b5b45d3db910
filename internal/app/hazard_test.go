package app_test

import (
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
)

var (
	hazardTest = regexp.MustCompile(`\bTest(?:\w+_)?Hazard([0-9]{2})_\w+`)
	hazardRow  = regexp.MustCompile(`(?m)^\| H([0-9]{2}) \|(.*)\|$`)
)

// The table of hazards and the tests name each other: no control is without
// its test, and no test is of a hazard or a control that the table leaves out.
func TestSafetyCase_NamesEveryTestOfAControl(t *testing.T) {
	t.Parallel()
	guide, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	claimed := map[string][]string{}
	for i, row := range hazardRow.FindAllStringSubmatch(string(guide), -1) {
		no, cells := row[1], strings.Split(row[2], "|")
		require.Len(t, cells, 5, "H%s: hazard, cause, control, test, residual risk", no)
		for _, cell := range cells {
			require.NotEmpty(t, strings.TrimSpace(cell), "H%s", no)
		}
		tests := hazardTest.FindAllStringSubmatch(cells[3], -1)
		require.NotEmpty(t, tests, "H%s has no test", no)
		for _, test := range tests {
			require.Equal(t, no, test[1], "%s stands beside H%s", test[0], no)
			claimed[no] = append(claimed[no], test[0])
		}
		require.Len(t, claimed, i+1, "H%s stands there twice", no)
	}
	require.NotEmpty(t, claimed)
	written := map[string][]string{}
	require.NoError(t, filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, test := range regexp.MustCompile(`(?m)^func (`+hazardTest.String()+`)\(`).FindAllStringSubmatch(string(text), -1) {
			written[test[2]] = append(written[test[2]], test[1])
		}
		return err
	}))
	for _, all := range []map[string][]string{claimed, written} {
		for _, tests := range all {
			slices.Sort(tests)
		}
	}
	require.Equal(t, written, claimed)
}

// The button stands beside the fields, and Enter in one of them presses it.
func TestHazard01_NothingWrongIsRefusedBesideSomethingThatIs(t *testing.T) {
	t.Parallel()
	for name, said := range map[string]url.Values{
		"sign": {"sign": {"pain"}}, "dressing": {"state": {"loose"}}, "flush": {"flush": {"none"}}, "score": {"score": {"3"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newScene(t)
			nurse := s.client(t, account.Nurse)
			address := s.server.URL + "/lines/line-1/review"
			said.Set("entry", "look-1")
			said.Set("nothing_wrong", "1")
			status, page := answerOf(t, nurse, address, said)
			require.Equal(t, http.StatusUnprocessableEntity, status)
			require.Contains(t, page, `href="#sign"`)
			said.Del("nothing_wrong")
			status, _ = answerOf(t, nurse, address, said)
			require.Equal(t, http.StatusSeeOther, status)
			said = url.Values{"entry": {"look-2"}, "nothing_wrong": {"1"}, "note": {"slept through it"}, "needed": {"no"}}
			status, _ = answerOf(t, nurse, address, said)
			require.Equal(t, http.StatusSeeOther, status)
			require.Equal(t, line.Review{Dressing: line.SetOf(line.Intact), Needed: line.No, Note: "slept through it"}, s.stored(t, "look-2").Body, "what is answered beside it is kept")
		})
	}
}

func TestHazard02_AMissedLookStandsOnTheBoardAndInTheHospitalsList(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.now = s.now.Add(12 * time.Hour)
	require.Contains(t, body(t, s.client(t, account.Nurse), s.server.URL+"/wards/alder"), "No look recorded")
	require.Contains(t, body(t, s.client(t, account.Lead), s.server.URL+"/audit"), "No look recorded")
}

func TestHazard03_ABedWithSomebodyElseInItIsAskedAbout(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	form := url.Values{"entry": {"in-2"}, "subject": {"patient-2"}, "when": {"now"}, "bed": {"2"}, "reference": {"KD-205"}}
	status, page := answerOf(t, s.client(t, account.Nurse), s.server.URL+"/wards/alder/admit", form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, "KD-204", "who is in it")
	require.Contains(t, page, `name="bed_confirmed"`)
}

func TestHazard03_ALookAsksFirstWhoseItIs(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	page := body(t, s.client(t, account.Nurse), s.server.URL+"/lines/line-1/look")
	for _, said := range []string{"KD-204", "left", "elbow crease", "This is another patient or arm"} {
		require.Contains(t, page, said)
	}
	require.Contains(t, page, `data-part="whose"`, "the part that is shown")
}

func TestHazard04_ATimeToComeIsRefused(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	form := url.Values{"entry": {"look-1"}, "when": {"typed"}, "when-date": {"2026-03-05"}, "when-clock": {"08:00"}, "state": {"intact"}}
	status, page := answerOf(t, s.client(t, account.Nurse), s.server.URL+"/lines/line-1/review", form)
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, "lies in the future")
}

// What was shown before the network went is told as that, what only the server
// knows is not there at all, and no advice is taken for a clean bill.
func TestHazard05_WithoutNetworkAPageSaysWhenItIsFromAndThatNothingIsChecked(t *testing.T) {
	t.Parallel()
	s := newSceneAt(t, time.Now())
	s.clock = time.Now
	d := newDevice(t, s)
	d.signIn(account.Nurse)
	d.takesAlong(7)
	d.network(false)
	d.open("/wards/alder", `[data-when="snapshot"]`)
	d.open("/audit", `[data-when="missing"]`)
	d.open("/patients/patient-1/place", `#advice`)
	page := mainText(t, d.tab)
	require.Contains(t, page, "Not checked yet")
	require.NotContains(t, page, "No finding for this choice")
}
