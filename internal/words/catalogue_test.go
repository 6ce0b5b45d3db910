package words_test

import (
	"context"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

func sentences(t *testing.T, tag string) map[string]map[string]string {
	t.Helper()
	all, err := words.Sentences(tag)
	require.NoError(t, err)
	require.Greater(t, len(all), 1900)
	return all
}

// in is a context whose reader reads the language.
func in(t *testing.T, tag string) context.Context {
	t.Helper()
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	return words.With(t.Context(), words.Speaker{Language: words.Embedded().Choose(tag), Zone: berlin, Now: minute(t, "2026-03-04T12:00:00Z")})
}

func TestCatalogues_HoldTheSameKeysPlaceholdersAndPlurals(t *testing.T) {
	t.Parallel()
	english, german := sentences(t, "en"), sentences(t, "de")
	require.Equal(t, slices.Sorted(maps.Keys(english)), slices.Sorted(maps.Keys(german)))
	for key, forms := range english {
		// German tells one from other (CLDR), so a sentence that English bends
		// needs both there unless it reads alike for every number.
		if forms["one"] != "" && forms["one"] != forms["other"] && german[key]["one"] == "" {
			require.Contains(t, alikeInGerman, key)
		}
	}
}

// alikeInGerman are sentences that English bends by number and German does not.
var alikeInGerman = []string{"report.met-by-placement", "report.met-by-removal"}

var letters = regexp.MustCompile(`\{\{[^}]*\}\}|[^\p{L}]`)

// sameInBoth are texts that are German as they stand, or are names.
var sameInBoth = map[string]string{
	"Dwellbook": "the product's name", "Name": "a German word", "Text": "a German word", "Plasma": "a German word", "Phlebitis": "a German word",
	"Audit": "used in German hospitals", "Signal": "a German word", "Passphrase": "used in German", "Administration": "a German word",
	"April": "a German word", "August": "a German word", "September": "a German word", "November": "a German word",
}

// sameKeys are keys whose text may be the same in both: symbols of units,
// layouts, and headings that machines read.
var sameKeys = regexp.MustCompile(`^(span|time)\.|^learningpage\.csv-|^sizepage\.(short-time|unit-minutes)$|^kit\.hub\.orange$|^outcomespage\.inner$`)

func TestCatalogues_LeaveNoEnglishInTheGerman(t *testing.T) {
	t.Parallel()
	english := sentences(t, "en")
	for key, forms := range sentences(t, "de") {
		if sameKeys.MatchString(key) {
			continue
		}
		for form, text := range forms {
			require.NotRegexp(t, `\b(the|and|this|recorded|ward|lines?|looks?|overdue|of|with|policy)\b`, letters.ReplaceAllString(strings.ReplaceAll(text, "[codes.ward]", ""), " "), key)
			if text == english[key][form] && letters.ReplaceAllString(text, "") != "" {
				require.Contains(t, sameInBoth, text, key)
			}
		}
	}
}

func TestSay_BendsGermanByNumber(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		key              string
		none, one, three string
	}{
		{"entry.attempts", "0 Versuche", "1 Versuch", "3 Versuche"},
		{"answered.days", "die letzten 0 Tage", "der letzte Tag", "die letzten 3 Tage"},
		{"moment.hours-ago", "vor 0 Stunden", "vor 1 Stunde", "vor 3 Stunden"},
		{"report.met-by-removal", "0-mal Ziehen.", "1-mal Ziehen.", "3-mal Ziehen."},
	} {
		for n, want := range map[int]string{0: c.none, 1: c.one, 3: c.three} {
			require.Equal(t, want, words.Say(in(t, "de"), c.key, "n", n))
		}
	}
	require.Equal(t, "Gezogen Di., 08:20: Phlebitis", words.Say(in(t, "de"), "audit.watch-after-removal.why", "removed", minute(t, "2026-03-03T07:20:00Z"), "reason", line.Phlebitis))
	require.Equal(t, "Weniger als 10 Erstversuche: Das Diagramm kann noch nichts sagen.",
		words.Say(in(t, "de"), "learning.read.few", "n", 10, "units", line.Say("trial.occasions")))
}

func TestNumber_TakesTheLanguagesDecimalMark(t *testing.T) {
	t.Parallel()
	de := in(t, "de")
	for want, v := range map[string]any{"3,1 %": line.Share(0.0312), "3,3 h": line.Hours(3.26), "p < 0,001": line.PValue(0.0004), "1,23": line.Number(1.234), "41 %": line.Share(0.412)} {
		require.Equal(t, want, words.Number(de, v))
	}
	require.Equal(t, "-0,5", words.Decimal(de, -0.5, 1))
	require.Equal(t, "-0.5", words.Decimal(in(t, "en"), -0.5, 1))
	require.Equal(t, "18G: etwa 4,5 ml/min (4 bis 5,2)", words.Say(de, "size.said", "gauge", line.Gauge(18), "flow", 4.5, "lower", 4.0, "upper", 5.2))
}

// What Intl.DateTimeFormat of Node.js 20.20 (CLDR 48) writes in German.
func TestWrite_HasGermanDatesAsCLDR(t *testing.T) {
	t.Parallel()
	s := words.To(in(t, "de")).In(time.UTC)
	at := time.Date(2026, 3, 3, 15, 4, 0, 0, time.UTC)
	for form, want := range map[words.Form]string{
		words.Clock: "15:04", words.WeekdayClock: "Di., 15:04", words.DateClock: "3. März, 15:04", words.FullClock: "3. März 2026, 15:04",
		words.WeekdayDateClock: "Di., 3. März, 15:04", words.Date: "3. März 2026", words.WeekdayDate: "Di., 3. März 2026",
		words.WeekdayDay: "Di., 3.", words.DayMonth: "3. März", words.ShortMonth: "März 26", words.ShortDate: "03.03.26",
		words.Full: "Di., 3. März 2026, 15:04 UTC",
	} {
		require.Equal(t, want, s.Write(at, form), form)
	}
	for i, name := range []string{"Jan.", "Feb.", "März", "Apr.", "Mai", "Juni", "Juli", "Aug.", "Sept.", "Okt.", "Nov.", "Dez."} {
		require.Equal(t, "5. "+name, s.Write(time.Date(2026, time.Month(i+1), 5, 0, 0, 0, 0, time.UTC), words.DayMonth))
	}
	for i, day := range []string{"Mo., 2.", "Di., 3.", "Mi., 4.", "Do., 5.", "Fr., 6.", "Sa., 7.", "So., 8."} {
		require.Equal(t, day, s.Write(time.Date(2026, 3, 2+i, 0, 0, 0, 0, time.UTC), words.WeekdayDay))
	}
}
