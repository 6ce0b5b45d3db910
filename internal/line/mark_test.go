package line_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
)

// marksOf gives the marks of an entry recorded as number 5 and corrected by number 8.
func marksOf(body line.Body) []line.Mark { return line.Marks(of(body), numbered{}, 5, 8) }

func TestMarks_OfEachKind(t *testing.T) {
	t.Parallel()
	type fill = func(m *line.Mark)
	none := func(*line.Mark) {}
	for _, c := range []struct {
		body line.Body
		want []fill
	}{
		{line.Admission{Ward: "w7", Bed: "3", Reference: "R1"}, []fill{func(m *line.Mark) { m.Ward = 7 }}},
		{line.Transfer{Ward: "w8"}, []fill{func(m *line.Mark) { m.Ward = 8 }}},
		{line.Occasion{
			Outcome: line.WithLine, Site: line.Wrist, Side: line.Right, Gauge: 22, Asepsis: line.AsepsisNotFull, PlacedBy: line.Ambulance,
			Purposes: line.SetOf(line.ForBlood, line.ForDrugs), Dressing: line.Gauze, Flush: line.FlushStiff, Count: 3,
		}, []fill{func(m *line.Mark) {
			m.Outcome, m.Site, m.Side, m.Gauge, m.Asepsis, m.PlacedBy = line.WithLine, line.Wrist, line.Right, 22, line.AsepsisNotFull, line.Ambulance
			m.Purposes, m.Material, m.Flush, m.Attempts = line.SetOf(line.ForBlood, line.ForDrugs), line.Gauze, line.FlushStiff, 3
		}}},
		{line.Occasion{Outcome: line.WithLine, Operator: line.Operator{Written: "JB"}}, []fill{func(m *line.Mark) {
			m.Outcome, m.Flags = line.WithLine, line.OperatorNamed
		}}},
		{line.Occasion{Outcome: line.WithoutLine, Attempts: []line.Attempt{
			{Operator: line.Operator{Written: "JB"}, Failed: true}, {Operator: line.Operator{Account: "a2"}, Failed: true},
			{Operator: line.Operator{Account: "a2"}, Failed: true}, {Failed: true},
		}}, []fill{func(m *line.Mark) {
			m.Outcome, m.Attempts, m.MostByOne, m.Flags = line.WithoutLine, 4, 2, line.OperatorNamed
		}}},
		{line.Facts{
			Group:   line.Child,
			Limits:  []line.Limit{{Limb: line.LeftLeg, Why: line.Oedema, Until: now}, {Limb: line.RightArm, Why: line.DVT, Lifted: true}},
			Watches: []line.Vigil{{Why: line.WatchSedated, Until: now}},
			Need:    &line.Need{MillilitresPerHour: 125, For: line.ForBlood},
		}, []fill{
			func(m *line.Mark) { m.Group = line.Child },
			func(m *line.Mark) { m.Part, m.Limb, m.Restriction, m.Until = 1, line.LeftLeg, line.Oedema, now },
			func(m *line.Mark) { m.Part, m.Limb, m.Restriction, m.Flags = 2, line.RightArm, line.DVT, line.Ends },
			func(m *line.Mark) { m.Part, m.Watch, m.Until = 3, line.WatchSedated, now },
			func(m *line.Mark) { m.Part, m.NeedML, m.Purposes = 4, 125, line.SetOf(line.ForBlood) },
		}},
		{line.Facts{}, nil},
		{line.Review{
			Signs: line.SetOf(line.Pain, line.Redness), Dressing: line.SetOf(line.Damp), Flush: line.FlushNone, Used: line.No, Needed: line.Yes, KeepUntil: now,
		}, []fill{func(m *line.Mark) {
			m.Signs, m.States, m.Flush, m.Used, m.Needed, m.Until = line.SetOf(line.Pain, line.Redness), line.SetOf(line.Damp), line.FlushNone, line.No, line.Yes, now
			m.Score, m.Flags = 2, line.ScoreFromSigns
		}}},
		{line.Review{Signs: line.SetOf(line.Pain), Score: number(3)}, []fill{func(m *line.Mark) { m.Signs, m.Score = line.SetOf(line.Pain), 3 }}},
		{line.Review{}, []fill{func(m *line.Mark) { m.Score, m.Flags = 0, line.ScoreFromSigns }}},
		{line.NotSeen{Why: line.DeclinedLook, Returns: now}, []fill{func(m *line.Mark) { m.Absence, m.Until = line.DeclinedLook, now }}},
		{line.Dressing{Material: line.OtherDressing}, []fill{func(m *line.Mark) { m.Material = line.OtherDressing }}},
		{line.Discharge{LeftIn: []line.ID{"l2", "l3"}}, []fill{
			none,
			func(m *line.Mark) { m.Part, m.Line, m.Flags = 1, 2, line.LeftIn },
			func(m *line.Mark) { m.Part, m.Line, m.Flags = 2, 3, line.LeftIn },
		}},
		{line.Removal{Reason: line.Phlebitis, Signs: line.SetOf(line.Cord)}, []fill{func(m *line.Mark) {
			m.Reason, m.Signs, m.Score, m.Flags = line.Phlebitis, line.SetOf(line.Cord), 2, line.ScoreFromSigns
		}}},
		{line.SiteCheck{Score: number(1)}, []fill{func(m *line.Mark) { m.Score = 1 }}},
		{line.InfectionOutcome{Outcome: line.InfectionBloodstream}, []fill{func(m *line.Mark) { m.Infection = line.InfectionBloodstream }}},
		{line.Justification{Rule: "need-daily", Until: now}, []fill{func(m *line.Mark) { m.RuleTag, m.Until = line.Rule("need-daily").Tag(), now }}},
		{line.Justification{Rule: "record-incomplete", Unobtainable: true}, []fill{func(m *line.Mark) {
			m.RuleTag, m.Flags = line.Rule("record-incomplete").Tag(), line.Unobtainable
		}}},
		{line.FollowUp{Rule: "need-daily"}, []fill{none}},
		{line.Correction{Root: "e0", Replacement: of(placed)}, nil},
		{line.Void{Root: "e0"}, nil},
		{line.Erasure{}, nil},
		{line.Policy{}, nil}, {line.Ward{}, nil}, {line.Hospital{}, nil}, {line.Account{}, nil}, {line.OperatorLink{}, nil},
		{line.AttemptAgreement{}, nil}, {line.RecordShare{}, nil},
	} {
		var want []line.Mark
		for _, f := range c.want {
			m := line.Mark{
				Subject: 1, Line: 1, At: now - 60, Seq: 5, Known: 8, Kind: c.body.Kind(), Precision: line.ToMinute,
				Detail: line.Detail{Score: line.NoScore},
			}
			f(&m)
			want = append(want, m)
		}
		require.Equal(t, want, marksOf(c.body), "%s %+v", c.body.Kind(), c.body)
		for _, m := range want {
			require.Equal(t, m.Detail, line.Unpack(m.Pack()))
		}
	}
}

func TestMark_StandsFromTheVersionUntilTheNext(t *testing.T) {
	t.Parallel()
	m := line.Mark{Seq: 5, Known: 8, Gone: 12}
	for seq, want := range map[int64]bool{7: false, 8: true, 11: true, 12: false, 100: false} {
		require.Equal(t, want, m.StandsAt(seq), "%d", seq)
	}
	m.Gone = 0
	require.True(t, m.StandsAt(100))
}

func TestDecode_EveryKindComesBackAsItWas(t *testing.T) {
	t.Parallel()
	for name, e := range sound() {
		raw, sealed, err := line.Canonical(e, func() string { return "salt" })
		require.NoError(t, err, name)
		texts := map[string]string{}
		for _, s := range sealed {
			texts[s.Hash] = s.Text
		}
		got, err := line.Decode(raw, func(h string) (string, bool) { text, ok := texts[h]; return text, ok })
		require.NoError(t, err, name)
		require.Equal(t, e, got, name)
	}
}

func TestDecode_RefusesWhatItCannotUnderstand(t *testing.T) {
	t.Parallel()
	good := `{"id":"e","kind":"review","subject":"p","line":"l","author":"a","happened":"2026-03-02T08:20:00Z","precision":"minute","body":{}}`
	_, err := line.Decode([]byte(good), nil)
	require.NoError(t, err)
	for _, bad := range []string{
		``, `[]`, `{}`, `{"id":"e"}`, `{"kind":"guess"}`, good + good,
		`{"kind":"review","precision":"hour"}`, `{"kind":"review","happened":"2026-03-02"}`, `{"kind":"review","body":[]}`,
		`{"kind":"review","body":{"signs":["itch"]}}`, `{"kind":"occasion","body":{"gauge":21}}`, `{"kind":"correction","body":{"replacement":{}}}`,
		`{"kind":"correction"}`, `{"kind":"correction","body":null}`, `{"kind":"correction","body":{"replacement":null}}`,
	} {
		_, err := line.Decode([]byte(bad), nil)
		require.Error(t, err, bad)
	}
}

// What is read once is written the same for ever, and nothing read makes Check,
// Marks or Fold panic.
func FuzzDecode(f *testing.F) {
	for _, e := range sound() {
		raw, err := json.Marshal(e)
		require.NoError(f, err)
		f.Add(raw)
	}
	f.Add([]byte(`{"kind":"review","body":{"note":{"sealed":"x"},"later":{"text":"y"}}}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		e, err := line.Decode(raw, func(string) (string, bool) { return "", false })
		if err != nil {
			return
		}
		line.Check(e, now)
		line.Fold(line.Marks(e, numbered{}, 1, 1))
		once, sealed, err := line.Canonical(e, func() string { return "salt" })
		require.NoError(t, err)
		texts := map[string]string{}
		for _, s := range sealed {
			texts[s.Hash] = s.Text
		}
		back, err := line.Decode(once, func(h string) (string, bool) { text, ok := texts[h]; return text, ok })
		require.NoError(t, err)
		twice, _, err := line.Canonical(back, func() string { return "salt" })
		require.NoError(t, err)
		require.Equal(t, string(once), string(twice))
	})
}
