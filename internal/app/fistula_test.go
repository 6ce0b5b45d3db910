package app_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

func TestFistula_IsGuardedInCorrectionsToo(t *testing.T) {
	t.Parallel()
	s := newScene(t)
	nurse := s.person(t, "person-nurse")
	now := s.app.Desk.Now()
	record := func(id line.ID, body line.Body) error {
		_, err := s.app.Desk.Record(t.Context(), nurse, desk.Act{Entries: []line.Entry{{
			ID: id, Kind: body.Kind(), Subject: "patient-1", Happened: now, Precision: line.ToMinute, Body: body,
		}}})
		return err
	}
	// From before the placement, in the other arm than the line's.
	require.NoError(t, record("limb-1", line.Facts{Limits: []line.Limit{{Limb: line.RightArm, Why: line.Fistula}}}))
	placed, seen, err := s.app.Desk.Latest(t.Context(), nurse, "entry-2")
	require.NoError(t, err)
	moved := func(side line.Side) error {
		e := placed
		o := e.Body.(line.Occasion)
		o.Side, o.LengthMM = side, 33
		e.Body = o
		return record("fix-"+line.ID(side.String()), line.Correction{Root: "entry-2", Seen: seen, Why: "wrong arm ticked", Replacement: e})
	}
	require.True(t, fault.Is(moved(line.Right), fault.Invalid))
	require.NoError(t, moved(line.Left))
}
