package line_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
)

// The words of every vocabulary in the order of their numbers, which are on
// disk: this list may grow at the ends and must never be reordered.
func TestCodes_EveryVocabularyKeepsItsNumbers(t *testing.T) {
	t.Parallel()
	for words, got := range map[string][]string{
		"hand-dorsum wrist forearm elbow-crease upper-arm ankle foot-dorsum neck scalp": roundTrip(t, line.HandDorsum),
		"left right":                                           roundTrip(t, line.Left),
		"film gauze other":                                     roundTrip(t, line.Film),
		"intact loose damp soiled lifted":                      roundTrip(t, line.Intact),
		"easy stiff none not-tried":                            roundTrip(t, line.FlushEasy),
		"full not-full not-known":                              roundTrip(t, line.AsepsisFull),
		"own-staff ambulance other-hospital not-known":         roundTrip(t, line.OwnStaff),
		"fluids drugs blood contrast emergency sampling other": roundTrip(t, line.ForFluids),
		"not-needed phlebitis infiltration extravasation occlusion leak dislodged infection-suspected routine faulty-position died discharged found-gone other":                                                           roundTrip(t, line.NotNeeded),
		"pain redness swelling induration cord fever leak cool-or-blanched pus resistance pain-reported extravasation-suspected":                                                                                          roundTrip(t, line.Pain),
		"no-flashback flashback-would-not-advance through-back-wall stopped-at-valve-or-junction haematoma vein-rolled spasm arterial nerve-pain swelled-on-flush dislodged-while-securing patient-moved equipment other": roundTrip(t, line.NoFlashback),
		"not-visible not-palpable difficult-before difficulty-expected small-vein none":                                                                                                                                   roundTrip(t, line.VeinNotVisible),
		"line no-line before-skin":              roundTrip(t, line.WithLine),
		"no-vein declined other":                roundTrip(t, line.NoVeinFound),
		"confirmed not-confirmed bloodstream":   roundTrip(t, line.InfectionConfirmed),
		"left-arm right-arm left-leg right-leg": roundTrip(t, line.LeftArm),
		"fistula node-clearance paralysed burnt infected dvt oedema fracture vein-preservation": roundTrip(t, line.Fistula),
		"off-ward declined asleep-by-plan end-of-life":                                          roundTrip(t, line.OffWard),
		"child sedated-or-confused irritant-running":                                            roundTrip(t, line.WatchChild),
		"adult child":          roundTrip(t, line.Adult),
		"yes no":               roundTrip(t, line.Yes),
		"minute day not-known": roundTrip(t, line.ToMinute),
		"admission occasion patient-facts review not-seen dressing transfer discharge removal site-check infection-outcome justification follow-up correction void erasure policy ward hospital account operator-link attempt-agreement record-share": roundTrip(t, line.KindAdmission),
	} {
		require.Equal(t, strings.Fields(words), got)
	}
}

// roundTrip writes and reads every word of the vocabulary, alone and in a set;
// it gives the words.
func roundTrip[V line.Vocabulary](t *testing.T, first line.Code[V]) []string {
	t.Helper()
	require.Equal(t, line.Code[V](1), first)
	var words []string
	for i, c := range first.All() {
		require.Equal(t, line.Code[V](i+1), c)
		words = append(words, c.String())
		text, err := c.MarshalText()
		require.NoError(t, err)
		var back line.Code[V]
		require.NoError(t, back.UnmarshalText(text))
		require.Equal(t, c, back)
		require.True(t, strings.HasSuffix(c.Word(), "."+c.String()))
	}
	var none line.Code[V]
	require.NoError(t, none.Parse(""))
	require.Zero(t, none)
	require.True(t, strings.HasSuffix(none.Word(), ".not-said"))

	var unknown *line.UnknownWord
	kept := first
	require.ErrorAs(t, kept.Parse("no such word"), &unknown)
	require.Equal(t, first, kept, "an error leaves it as it was")
	require.Equal(t, words, unknown.Allowed)
	require.NotContains(t, words, line.Code[V](200).String())

	for bits := range line.Set[V](1) << min(len(words), 8) {
		raw, err := json.Marshal(bits)
		require.NoError(t, err)
		var back line.Set[V]
		require.NoError(t, json.Unmarshal(raw, &back))
		require.Equal(t, bits, back)
	}
	all := line.SetOf(first.All()...)
	require.Equal(t, first.All(), slices.Collect(all.Codes()))
	for _, c := range first.All() {
		require.True(t, all.Has(c))
		require.True(t, line.SetOf(c).Any(first.All()...))
		require.False(t, line.SetOf[V]().Any(c))
	}
	require.False(t, all.Has(0))
	require.ErrorAs(t, json.Unmarshal([]byte(`["no such word"]`), &all), &unknown)
	return words
}

func TestGauge_HubColours(t *testing.T) {
	t.Parallel()
	// ISO 10555-5:2013, colour code of over-needle peripheral catheters, as
	// given by a general web page on cannula colours (not read in the standard
	// itself). Some web charts are wrong: 14 is orange, not red.
	for gauge, colour := range map[line.Gauge]string{
		14: "orange", 16: "grey", 17: "white", 18: "green", 20: "pink", 22: "blue", 24: "yellow", 26: "violet",
	} {
		require.True(t, gauge.Exists())
		require.Equal(t, colour, gauge.Colour())
	}
	require.Len(t, line.Gauges, 8)
	require.True(t, slices.IsSorted(line.Gauges), "widest first")
	// The table has no such sizes.
	for _, gauge := range []line.Gauge{0, 15, 19, 21, 23, 25} {
		require.False(t, gauge.Exists(), "%d", gauge)
		require.Empty(t, gauge.Colour())
	}
}

func TestParseGauge(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]line.Gauge{
		"20": 20, "20g": 20, "20G": 20, "20 G": 20, " 20 g ": 20, "14": 14, "26": 26, "": 0,
	} {
		got, err := line.ParseGauge(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
	}
	for _, text := range []string{"15", "19", "21", "23", "13", "12", "28", "0", "-20", "276", "20.0", "g", " ", "G20", "20 gauge", "pink", "2 0", "99999999999999999999"} {
		_, err := line.ParseGauge(text)
		var unknown *line.UnknownWord
		require.ErrorAs(t, err, &unknown, "%q", text)
		require.Equal(t, []string{"14", "16", "17", "18", "20", "22", "24", "26"}, unknown.Allowed)
	}
}

func TestGauge_WiderThan(t *testing.T) {
	t.Parallel()
	require.True(t, line.Gauge(14).WiderThan(20))
	require.False(t, line.Gauge(20).WiderThan(14))
	require.False(t, line.Gauge(20).WiderThan(20))
	require.False(t, line.Gauge(0).WiderThan(20))
	require.False(t, line.Gauge(20).WiderThan(0))
	require.Equal(t, "20G", line.Gauge(20).String())
	require.Equal(t, "?G", line.Gauge(0).String())
}

func TestGauge_JSON(t *testing.T) {
	t.Parallel()
	var g line.Gauge
	require.NoError(t, json.Unmarshal([]byte("20"), &g))
	require.Equal(t, line.Gauge(20), g)
	require.Error(t, json.Unmarshal([]byte("21"), &g))
	require.Error(t, json.Unmarshal([]byte(`"20"`), &g))
	require.Equal(t, line.Gauge(20), g)
}

func TestSites(t *testing.T) {
	t.Parallel()
	// Over a joint: wrist, elbow crease and ankle; common practice, no source.
	joints := []line.Site{line.Wrist, line.ElbowCrease, line.Ankle}
	for _, s := range line.HandDorsum.All() {
		require.Equal(t, slices.Contains(joints, s), line.OverJoint(s), "%s", s)
		offLimb := s == line.Neck || s == line.Scalp
		require.Equal(t, !offLimb, line.HasSide(s))
		require.Equal(t, offLimb, line.Above(s) == 0)
		require.Equal(t, offLimb, line.LimbOf(s, line.Left) == 0)
		require.Zero(t, line.LimbOf(s, 0))
	}
	require.Equal(t, line.LeftArm, line.LimbOf(line.Wrist, line.Left))
	require.Equal(t, line.RightArm, line.LimbOf(line.UpperArm, line.Right))
	require.Equal(t, line.LeftLeg, line.LimbOf(line.Ankle, line.Left))
	require.Equal(t, line.RightLeg, line.LimbOf(line.FootDorsum, line.Right))
	require.False(t, line.HasSide(0))
	require.Less(t, line.Above(line.HandDorsum), line.Above(line.Wrist))
	require.Less(t, line.Above(line.Wrist), line.Above(line.Forearm))
	require.Less(t, line.Above(line.Forearm), line.Above(line.ElbowCrease))
	require.Less(t, line.Above(line.ElbowCrease), line.Above(line.UpperArm))
	require.Less(t, line.Above(line.FootDorsum), line.Above(line.Ankle))
}

func TestFails(t *testing.T) {
	t.Parallel()
	fails := line.SetOf(line.Phlebitis, line.Infiltration, line.Extravasation, line.Occlusion, line.Leak, line.Dislodged, line.InfectionSuspected, line.FaultyPosition)
	for _, r := range line.Phlebitis.All() {
		require.Equal(t, fails.Has(r), line.Fails(r), "%s", r)
	}
	require.False(t, line.Fails(0))
}

func TestParseID(t *testing.T) {
	t.Parallel()
	for _, id := range []string{"a", "9870e950-f81a-4ced-a53a-08e1c62059e1", "A.b_c:d-1", strings.Repeat("x", 64)} {
		got, err := line.ParseID(id)
		require.NoError(t, err)
		require.Equal(t, line.ID(id), got)
	}
	for _, id := range []string{"", " ", "a b", "a/b", "é", "a\n", "\na", "<a>", strings.Repeat("x", 65)} {
		_, err := line.ParseID(id)
		require.Error(t, err, "%q", id)
	}
}

func TestRule_Tag(t *testing.T) {
	t.Parallel()
	require.Zero(t, line.Rule("").Tag())
	// Published check values of 32-bit FNV-1a (the FNV authors' test vectors).
	require.Equal(t, uint32(0xe40c292c), line.Rule("a").Tag())
	require.Equal(t, uint32(0xbf9cf968), line.Rule("foobar").Tag())
	require.Equal(t, "rule.need-daily", line.Rule("need-daily").Word())
}

func TestScoreOf(t *testing.T) {
	t.Parallel()
	signs := func(s ...line.Sign) []line.Sign { return s }
	// The visual infusion phlebitis score, cited as Jackson 1998, as reproduced
	// on two teaching pages; its signs in our own words. That pus, or a cord
	// without the rest, counts at least 2 is a house rule.
	for _, c := range []struct {
		signs []line.Sign
		want  int
	}{
		{nil, 0},
		{signs(line.Pain), 1}, {signs(line.Redness), 1},
		{signs(line.Pain, line.Redness), 2}, {signs(line.Pain, line.Swelling), 2}, {signs(line.Redness, line.Swelling), 2},
		{signs(line.Pain, line.Redness, line.Swelling), 2},
		{signs(line.Pain, line.Redness, line.Induration), 3},
		{signs(line.Pain, line.Redness, line.Induration, line.Cord), 4},
		{signs(line.Pain, line.Redness, line.Induration, line.Cord, line.Fever), 5},
		// House rules: one sign of a row alone, pus, a cord.
		{signs(line.Swelling), 1}, {signs(line.Induration), 1}, {signs(line.Pain, line.Induration), 1},
		{signs(line.Pus), 2}, {signs(line.Cord), 2}, {signs(line.Cord, line.Fever), 2}, {signs(line.Redness, line.Pus), 2},
		{signs(line.Pain, line.Redness, line.Swelling, line.Induration, line.Fever), 3},
		// Not signs of phlebitis.
		{signs(line.Fever), 0}, {signs(line.SiteLeak, line.CoolOrBlanched, line.Resistance, line.PainReported, line.ExtravasationSuspected), 0},
	} {
		require.Equal(t, c.want, line.ScoreOf(line.SetOf(c.signs...)), "%v", c.signs)
	}
}

func TestHazard08_MoreSignsNeverScoreLess(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		some := line.Signs(rapid.IntRange(0, 1<<12-1).Draw(t, "signs"))
		more := some | line.Signs(rapid.IntRange(0, 1<<12-1).Draw(t, "more"))
		require.LessOrEqual(t, line.ScoreOf(some), line.ScoreOf(more))
	})
}
