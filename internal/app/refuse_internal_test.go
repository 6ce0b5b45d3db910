package app

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/fault"
	"dwellbook/internal/interop"
	"dwellbook/internal/line"
)

type oneWard struct{}

func (oneWard) Ward(name string) (line.ID, *time.Location, bool) {
	return line.ID(name), time.UTC, true
}
func (oneWard) Reference(string) bool { return true }

// The rows of one patient: the first one's line was placed an hour before the second's.
func twoRows(t *testing.T) (*interop.Sheet, []interop.Row) {
	t.Helper()
	text := "line_id,ward,site,patient_ref,inserted_at\nL1,Ash,wrist,R1,2026-03-02 08:00\nL2,Ash,forearm,R1,2026-03-02 09:00\n"
	sheet, err := interop.ReadSheet(strings.NewReader(text), interop.SheetOptions{
		Source: "s", House: oneWard{}, Author: "a", Now: time.Date(2026, 3, 5, 0, 0, 0, 0, time.UTC),
	})
	require.NoError(t, err)
	require.Len(t, sheet.Rows, 2)
	return &sheet, sheet.Of(sheet.Rows[0].Subject)
}

func TestRefuse_IsOfTheRowTheAnswerNames(t *testing.T) {
	t.Parallel()
	_, rows := twoRows(t)
	occasion := rows[1].Entries[0]
	admission := rows[0].Entries[0]
	for _, c := range []struct {
		name string
		args []any
		bad  []int
	}{
		{"its line", []any{"kind", line.KindReview, "happened", line.Minute(1), "line", string(occasion.Line)}, []int{3}},
		{"its entry", []any{"id", string(occasion.ID)}, []int{3}},
		{"a move by its kind and moment", []any{"kind", line.KindAdmission, "happened", admission.Happened}, []int{2}},
		{"a move of the record's own", []any{"kind", line.KindTransfer, "happened", admission.Happened}, []int{2, 3}},
		{"a line of the record's own", []any{"kind", line.KindOccasion, "happened", occasion.Happened, "line", "another"}, []int{2, 3}},
		{"nothing", nil, []int{2, 3}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			sheet, rows := twoRows(t)
			refuse(sheet, rows, fault.New(fault.Conflict, "store.not-in-ward", c.args...))
			var bad []int
			allowed := "import.allow.record"
			if len(c.bad) > 1 {
				allowed = "import.allow.record-all"
			}
			for _, b := range sheet.Bad {
				bad = append(bad, b.Number)
				require.Equal(t, "store.not-in-ward", b.Problems[0].What.Key)
				require.Equal(t, allowed, b.Problems[0].Allowed.Key)
			}
			require.Equal(t, c.bad, bad)
			left := sheet.Of(rows[0].Subject)
			require.Len(t, left, 2-len(c.bad))
			if len(left) > 0 { // whichever is left, the admission is with it
				require.Equal(t, line.KindAdmission, left[0].Entries[0].Kind)
			}
		})
	}
}

func TestRefuse_OfFieldsSaysEach(t *testing.T) {
	t.Parallel()
	sheet, rows := twoRows(t)
	refuse(sheet, rows[:1], fault.Field("gauge", "check.gauge"))
	require.Len(t, sheet.Bad, 1)
	require.Equal(t, []interop.Problem{{Column: "gauge", What: line.Say("check.gauge"), Allowed: line.Say("import.allow.record")}}, sheet.Bad[0].Problems)
}
