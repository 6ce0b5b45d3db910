package app_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

func recordAs(t *testing.T, s *scene, who, id line.ID, body line.Body) {
	t.Helper()
	_, err := s.app.Desk.Record(t.Context(), s.person(t, who), desk.Act{Entries: []line.Entry{{
		ID: id, Kind: body.Kind(), Subject: "patient-1", Line: "line-1", Happened: s.app.Desk.Now(), Precision: line.ToMinute, Body: body,
	}}})
	require.NoError(t, err)
}

func TestAnswered_ShowsReasonRoleAndEnd(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.now = time.Date(2026, 3, 4, 21, 0, 0, 0, time.UTC) // the look due at 19:30 is overdue
	until := s.app.Desk.Now() + 3*60
	recordAs(t, s, "person-nurse", "answer-1", line.Justification{
		Rule: audit.ReviewOverdue, Clinician: "Dr Solano", Why: "asleep after a bad night", Until: until,
	})
	recordAs(t, s, "person-doctor", "answer-2", line.Justification{
		Rule: audit.AcrossJoint, Clinician: "Dr Solano", Why: "no other vein was found", Until: until + 48*60,
	})
	a, err := s.app.Desk.Answered(t.Context(), s.person(t, "person-lead"), time.Hour)
	require.NoError(t, err)
	require.Len(t, a.Duties, 1)
	require.Equal(t, audit.ReviewOverdue, a.Duties[0].Rule)
	require.Equal(t, account.Nurse, a.Duties[0].Role)
	require.Equal(t, "asleep after a bad night", a.Duties[0].Why)
	require.Equal(t, until, a.Duties[0].Until)
	require.Len(t, a.Concerns, 1)
	require.Equal(t, account.Doctor, a.Concerns[0].Role)
	require.Equal(t, until+48*60, a.Concerns[0].Until)

	text := body(t, s.client(t, account.Lead), s.server.URL+"/answered")
	require.Contains(t, text, "no other vein was found")
	require.Contains(t, text, `href="/lines/line-1"`)
	for _, name := range []string{"Dr Solano", "Somebody nurse", "Somebody doctor", "KD-204"} {
		require.NotContains(t, text, name)
	}

	s.now = s.now.Add(3 * time.Hour) // the answer to the duty has run out
	a, err = s.app.Desk.Answered(t.Context(), s.person(t, "person-lead"), time.Hour)
	require.NoError(t, err)
	require.Empty(t, a.Duties)
	require.Len(t, a.Concerns, 1)
}

func TestAnswered_ADutyIsAnsweredForADayAtMost(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.now = time.Date(2026, 3, 4, 21, 0, 0, 0, time.UTC)
	start := s.app.Desk.Now()
	recordAs(t, s, "person-nurse", "answer-1", line.Justification{Rule: audit.ReviewOverdue, Clinician: "Dr Solano", Why: "first", Until: start + 60})
	recordAs(t, s, "person-nurse", "answer-2", line.Justification{Rule: audit.ReviewOverdue, Clinician: "Dr Solano", Why: "longer", Until: start + 24*60})
	a, err := s.app.Desk.Answered(t.Context(), s.person(t, "person-lead"), time.Hour)
	require.NoError(t, err)
	require.Len(t, a.Duties, 1)
	require.Equal(t, "longer", a.Duties[0].Why, "of several, the one that lasts longest")
	require.Equal(t, start.Add(line.LongestJustification), a.Duties[0].Until)
}

func TestAnswered_ShowsACorrectedReasonAsItNowStands(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	s.now = time.Date(2026, 3, 4, 21, 0, 0, 0, time.UTC)
	was := line.Justification{Rule: audit.ReviewOverdue, Clinician: "Dr Solano", Why: "wrong words", Until: s.app.Desk.Now() + 60}
	recordAs(t, s, "person-nurse", "answer-1", was)
	is := was
	is.Why = "right words"
	replacement := line.Entry{
		ID: "answer-1", Kind: line.KindJustification, Subject: "patient-1", Line: "line-1", Happened: s.app.Desk.Now(), Precision: line.ToMinute,
		Author: "person-nurse", Body: is,
	}
	recordAs(t, s, "person-nurse", "correction-1", line.Correction{Root: "answer-1", Seen: "answer-1", Why: "typed wrong", Replacement: replacement})
	text := body(t, s.client(t, account.Lead), s.server.URL+"/answered")
	require.Contains(t, text, "right words")
	require.NotContains(t, text, "wrong words")
}

func TestAnswered_ListsFollowUpsByRole(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	recordAs(t, s, "person-lead", "follow-1", line.FollowUp{Rule: audit.DressingOverdue, Note: "spoke with the ward"})
	s.now = s.now.Add(10 * 24 * time.Hour)
	lead := s.client(t, account.Lead)
	text := body(t, lead, s.server.URL+"/answered")
	require.Contains(t, text, "spoke with the ward")
	require.Contains(t, text, "Wed 4 Mar 2026 15:10 GMT")
	a, err := s.app.Desk.Answered(t.Context(), s.person(t, "person-lead"), 28*24*time.Hour)
	require.NoError(t, err)
	require.Len(t, a.FollowUps, 1)
	require.Equal(t, account.Lead, a.FollowUps[0].Role)
	require.NotContains(t, text[strings.Index(text, "<main"):], "Somebody")
	s.now = s.now.Add(20 * 24 * time.Hour)
	lead = s.client(t, account.Lead)
	require.NotContains(t, body(t, lead, s.server.URL+"/answered"), "spoke with the ward")
	require.Contains(t, body(t, lead, s.server.URL+"/answered?days=91"), "spoke with the ward")
	_, err = s.app.Desk.Answered(t.Context(), s.person(t, "person-doctor"), time.Hour)
	require.True(t, fault.Is(err, fault.Forbidden))
}
