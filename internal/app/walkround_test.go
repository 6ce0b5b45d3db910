package app_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// A site watched after its line is out is a finding of the hour, but of no line
// that is in.
func TestWalkRound_CountsOnlyLinesThatAreIn(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead, nurse := s.person(t, "person-lead"), s.person(t, "person-nurse")
	before, err := s.app.Desk.WalkRound(t.Context(), lead, 0, desk.Known{})
	require.NoError(t, err)
	all := before.Wards[len(before.Wards)-1]
	require.Equal(t, 1, all.Lines)

	out := line.Removal{Reason: line.Phlebitis, Complete: line.Yes}
	_, err = s.app.Desk.Record(t.Context(), nurse, desk.Act{Entries: []line.Entry{{
		ID: "out-1", Kind: out.Kind(), Subject: "patient-1", Line: "line-1", Happened: s.app.Desk.Now(), Precision: line.ToMinute, Body: out,
	}}})
	require.NoError(t, err)
	s.now = s.now.Add(20 * time.Hour)
	after, err := s.app.Desk.WalkRound(t.Context(), lead, 0, desk.Known{})
	require.NoError(t, err)
	all = after.Wards[len(after.Wards)-1]
	require.Positive(t, all.ByRule[audit.WatchAfterRemoval])
	require.Zero(t, all.Lines)
	require.Zero(t, all.Faulty)
}

// The month beside an hour as known then is judged then: what was recorded
// later is not missing from it.
func TestWalkRound_JudgesTheMonthWhenItWasKnown(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.person(t, "person-lead")
	then := s.now.Add(time.Minute)
	s.now = s.now.Add(10 * 24 * time.Hour)
	due := func(known desk.Known) (due int) {
		w, err := s.app.Desk.WalkRound(t.Context(), lead, line.MinuteOf(then), known)
		require.NoError(t, err)
		for i := range w.Month.Groups {
			due += w.Month.Groups[i].Due()
		}
		return due
	}
	require.Zero(t, due(desk.Known{At: then}), "five hours after placement no look was due yet")
	require.Greater(t, due(desk.Known{}), 10)
}

func TestAuditQuestions_RefuseAWardOrARuleThatThereIsNot(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	lead := s.client(t, "lead")
	for path, field := range map[string]string{
		"/audit?ward=nowhere": "ward", "/audit?rule=no-such": "rule", "/compliance?ward=nowhere": "ward", "/compliance?by=ward&rule=no-such": "rule",
	} {
		answer, err := lead.Get(s.server.URL + path)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		require.Equal(t, 422, answer.StatusCode, "%s: %s", path, field)
	}
}
