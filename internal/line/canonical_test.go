package line_test

import (
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
)

func TestCanonical_SealsTextsAndOpensThemAgain(t *testing.T) {
	t.Parallel()
	n := 0
	salt := func() string { n++; return strconv.Itoa(n) }
	e := line.Entry{
		Version: 1, ID: "e1", Kind: line.KindRemoval, Subject: "p1", Line: "l1", Author: "a1",
		Happened: 29000000, Precision: line.ToMinute,
		Body: line.Removal{Reason: line.Phlebitis, Signs: line.SetOf(line.Pain, line.Redness), Note: "by the <window>"},
	}
	raw, sealed, err := line.Canonical(e, salt)
	require.NoError(t, err)
	require.NotContains(t, string(raw), "window")
	require.Len(t, sealed, 1)

	texts := map[string]string{sealed[0].Hash: sealed[0].Text}
	got, err := line.Decode(raw, func(h string) (string, bool) { s, ok := texts[h]; return s, ok })
	require.NoError(t, err)
	require.Equal(t, e, got)

	erased, err := line.Decode(raw, func(string) (string, bool) { return "", false })
	require.NoError(t, err)
	require.Empty(t, erased.Body.(line.Removal).Note)
	require.Equal(t, line.Phlebitis, erased.Body.(line.Removal).Reason)
}

func TestSealJSON_KeepsUnknownFieldsAndIsStable(t *testing.T) {
	t.Parallel()
	raw := []byte(`{"kind":"review", "body":{"later":{"b":1,"a":9007199254740993}},"id":"e","author":"a","happened":"2026-03-02T08:20:00Z","precision":"minute"}`)
	once, _, err := line.SealJSON(raw, nil)
	require.NoError(t, err)
	require.Equal(t, `{"author":"a","body":{"later":{"a":9007199254740993,"b":1}},"happened":"2026-03-02T08:20:00Z","id":"e","kind":"review","precision":"minute"}`, string(once))
	twice, _, err := line.SealJSON(once, nil)
	require.NoError(t, err)
	require.Equal(t, once, twice)
}

func TestDetail_SurvivesPacking(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := line.Detail{
			Outcome: line.Outcome(rapid.IntRange(0, 3).Draw(t, "outcome")), Site: line.Site(rapid.IntRange(0, 9).Draw(t, "site")),
			Side: line.Side(rapid.IntRange(0, 2).Draw(t, "side")), Gauge: rapid.SampledFrom(line.Gauges).Draw(t, "gauge"),
			Asepsis: line.Asepsis(rapid.IntRange(0, 3).Draw(t, "asepsis")), PlacedBy: line.PlacedBy(rapid.IntRange(0, 4).Draw(t, "placer")),
			Material: line.Material(rapid.IntRange(0, 3).Draw(t, "material")), Flush: line.Flush(rapid.IntRange(0, 4).Draw(t, "flush")),
			Used: line.Answer(rapid.IntRange(0, 2).Draw(t, "used")), Needed: line.Answer(rapid.IntRange(0, 2).Draw(t, "needed")),
			Group: line.Group(rapid.IntRange(0, 2).Draw(t, "group")), Limb: line.Limb(rapid.IntRange(0, 4).Draw(t, "limb")),
			Restriction: line.Restriction(rapid.IntRange(0, 9).Draw(t, "restriction")), Watch: line.Watch(rapid.IntRange(0, 3).Draw(t, "watch")),
			Absence: line.Absence(rapid.IntRange(0, 4).Draw(t, "absence")), Reason: line.Reason(rapid.IntRange(0, 14).Draw(t, "reason")),
			Signs: line.Signs(rapid.IntRange(0, 1<<12-1).Draw(t, "signs")), States: line.States(rapid.IntRange(0, 31).Draw(t, "states")),
			Purposes: line.Purposes(rapid.IntRange(0, 127).Draw(t, "purposes")), Score: int8(rapid.IntRange(-1, 5).Draw(t, "score")),
			Flags: line.Flags(rapid.IntRange(0, 31).Draw(t, "flags")), Attempts: rapid.Uint8().Draw(t, "attempts"),
			MostByOne: rapid.Uint8().Draw(t, "most"), RuleTag: rapid.Uint32().Draw(t, "rule"), NeedML: uint16(rapid.IntRange(0, line.MostNeeded).Draw(t, "need")),
		}
		require.Equal(t, d, line.Unpack(d.Pack()))
	})
}
