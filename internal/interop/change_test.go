package interop_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/interop"
	"dwellbook/internal/line"
)

func TestChanged_WhatASheetSaysAgainstTheRecord(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name        string
		kind        line.Kind
		first, next []string
		changed     bool
	}{
		{"the same", line.KindOccasion, nil, nil, false},
		{"another gauge", line.KindOccasion, nil, []string{"gauge=18"}, true},
		{"a gauge now given", line.KindOccasion, []string{"gauge="}, nil, true},
		{"a gauge now blank", line.KindOccasion, nil, []string{"gauge="}, false},
		{"another patient", line.KindOccasion, nil, []string{"patient_ref=R00002"}, true},
		{"another time", line.KindOccasion, nil, []string{"inserted_at=2026-03-02 08:21"}, true},
		{"the day of the minute known", line.KindOccasion, nil, []string{"inserted_at=2026-03-02"}, false},
		{"another day", line.KindOccasion, nil, []string{"inserted_at=2026-03-03"}, true},
		{"a time for a day", line.KindOccasion, []string{"inserted_at=2026-03-02"}, nil, true},
		{"a time now blank", line.KindOccasion, nil, []string{"inserted_at="}, false},
		{"a time now given", line.KindOccasion, []string{"inserted_at="}, nil, true},
		{"still not known, seen later", line.KindOccasion, []string{"inserted_at=", "last_review_at=2026-03-02"}, []string{"inserted_at=", "last_review_at=2026-03-03"}, false},
		{"still not known, seen earlier", line.KindOccasion, []string{"inserted_at=", "last_review_at=2026-03-03"}, []string{"inserted_at=", "last_review_at=2026-03-02"}, true},
		{"another score of one review", line.KindReview, []string{"last_review_at=2026-03-03", "last_score=1"}, []string{"last_review_at=2026-03-03", "last_score=2"}, true},
		{"another reason", line.KindRemoval, []string{"removed_at=2026-03-03", "removal_reason=leak"}, []string{"removed_at=2026-03-03", "removal_reason=routine"}, true},
		{"another time of removal", line.KindRemoval, []string{"removed_at=2026-03-03 10:00"}, []string{"removed_at=2026-03-03 11:00"}, true},
		{"found gone, though seen out", line.KindRemoval, []string{"removed_at=2026-03-03"}, []string{"removal_reason=found-gone"}, false},
		{"seen out, though found gone", line.KindRemoval, []string{"removal_reason=found-gone"}, []string{"removed_at=2026-03-03", "removal_reason=leak"}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			recorded := entryOf(t, one(t, options(), c.first...), c.kind)
			o := options()
			o.Author = "somebody-else"
			next := entryOf(t, one(t, o, c.next...), c.kind)
			require.Equal(t, recorded.ID, next.ID)
			require.Equal(t, c.changed, interop.Changed(recorded, next))

			fix := interop.Correction(recorded, recorded.ID, next, "as in the sheet of April")
			body := fix.Body.(line.Correction)
			require.Empty(t, line.Check(fix, line.MinuteOf(o.Now)))
			require.Equal(t, recorded.ID, body.Root)
			require.False(t, interop.Changed(body.Replacement, next), "once corrected it is not changed any more")
			require.Equal(t, fix, interop.Correction(recorded, recorded.ID, next, "as in the sheet of April"))
			require.NotEqual(t, fix.ID, interop.Correction(recorded, fix.ID, next, "as in the sheet of April").ID)
		})
	}
}

func TestCorrection_KeepsWhatTheSheetDoesNotSay(t *testing.T) {
	t.Parallel()
	recorded := entryOf(t, one(t, options()), line.KindOccasion)
	known := recorded.Body.(line.Occasion)
	known.Attempts = []line.Attempt{{Failed: true, Fault: line.VeinRolled}, {}}
	known.Operator = line.Operator{Account: "account-1"}
	known.Purposes = line.SetOf(line.ForFluids)
	recorded.Body = known
	read := entryOf(t, one(t, options(), "gauge=18", "operator=JB", "attempts=1"), line.KindOccasion)
	known.Gauge = 18
	require.Equal(t, known, interop.Correction(recorded, recorded.ID, read, "why").Body.(line.Correction).Replacement.Body)
}

func kindsAt(entries []line.Entry) (all []string) {
	for _, e := range entries {
		ward := ""
		switch b := e.Body.(type) {
		case line.Admission:
			ward = " " + string(b.Ward)
		case line.Transfer:
			ward = " " + string(b.Ward)
		}
		all = append(all, e.Happened.Time().Format("02 15:04 ")+e.Kind.String()+ward)
	}
	return all
}

func movesOf(s interop.Sheet) (moves []line.Entry) {
	for _, r := range s.Rows {
		for _, e := range r.Entries {
			if interop.IsMove(e.Kind) {
				moves = append(moves, e)
			}
		}
	}
	return moves
}

func TestReadSheet_FollowsAPatientThroughTheSheet(t *testing.T) {
	t.Parallel()
	row := func(id, ward, placed, out, reason string) string {
		return id + "," + ward + ",,R00001," + placed + ",forearm,left,20,,,,,,," + "," + out + "," + reason + "\n"
	}
	for _, c := range []struct {
		name, rows string
		want       []string
		bad        int
	}{
		{"one ward, two lines, in any order", row("L2", "Ash", "2026-03-03 10:00", "", "") + row("L1", "Ash", "2026-03-02 10:00", "", ""),
			[]string{"02 10:00 admission ward-ash"}, 0},
		{"a later line in another ward", row("L1", "Ash", "2026-03-02 10:00", "", "") + row("L2", "Birch", "2026-03-03 10:00", "", ""),
			[]string{"02 10:00 admission ward-ash", "03 10:00 transfer ward-birch"}, 0},
		{"two wards in one minute", row("L1", "Ash", "2026-03-02 10:00", "", "") + row("L2", "Birch", "2026-03-02 10:00", "", ""),
			[]string{"02 10:00 admission ward-ash"}, 1},
		{"discharged with the line out", row("L1", "Ash", "2026-03-02 10:00", "2026-03-03 10:00", "discharged"),
			[]string{"02 10:00 admission ward-ash", "03 10:00 discharge"}, 0},
		{"discharged, and back in another ward", row("L1", "Ash", "2026-03-02 10:00", "2026-03-03 10:00", "discharged") + row("L2", "Birch", "2026-03-04 10:00", "", ""),
			[]string{"02 10:00 admission ward-ash", "03 10:00 discharge", "04 10:00 admission ward-birch"}, 0},
		{"one line out as discharged while another is in", row("L1", "Ash", "2026-03-02 10:00", "2026-03-03 10:00", "discharged") + row("L2", "Ash", "2026-03-02 11:00", "", ""),
			[]string{"02 10:00 admission ward-ash"}, 0},
		{"out for another reason: the sheet does not say that the patient left", row("L1", "Ash", "2026-03-02 10:00", "2026-03-03 10:00", "leak"),
			[]string{"02 10:00 admission ward-ash"}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := read(t, head+c.rows, options())
			require.Equal(t, c.want, kindsAt(movesOf(s)))
			require.Len(t, s.Bad, c.bad)
		})
	}
}

func TestSheet_MovesOfAPatientTheRecordKnows(t *testing.T) {
	t.Parallel()
	ash := func(placed, reviewed string) string {
		return "L1,Ash,4,R00001," + placed + ",forearm,left,20,,,,,," + reviewed + ",,,\n"
	}
	birch := "L2,Birch,,R00001,2026-03-03 10:00,wrist,left,20,,,,,,,,,\n"
	for _, c := range []struct {
		name, rows string
		now        interop.Standing
		want       []string
	}{
		{"there already", ash("2026-03-02 10:00", ""), interop.Standing{Ward: "ward-ash", Since: at(t, "2026-03-02T10:00:00Z")}, nil},
		{"there already, before the line", ash("2026-03-02 10:00", ""), interop.Standing{Ward: "ward-ash", Since: at(t, "2026-03-01T10:00:00Z")}, nil},
		{"a later line in another ward", ash("2026-03-02 10:00", "") + birch, interop.Standing{Ward: "ward-ash", Since: at(t, "2026-03-02T10:00:00Z")},
			[]string{"03 10:00 transfer ward-birch"}},
		{"moved as the sheet before told", ash("2026-03-02 10:00", "") + birch, interop.Standing{Ward: "ward-birch", Since: at(t, "2026-03-03T10:00:00Z")}, nil},
		{"moved between two sheets", ash("2026-03-02 10:00", "2026-03-04 09:00"), interop.Standing{Ward: "ward-birch", Since: at(t, "2026-03-02T10:00:00Z")},
			[]string{"04 09:00 transfer ward-ash"}},
		{"moved since the sheet was made", ash("2026-03-02 10:00", "2026-03-04 09:00"), interop.Standing{Ward: "ward-birch", Since: at(t, "2026-03-04T10:00:00Z")}, nil},
		{"discharged after the sheet's line was placed", ash("2026-03-02 10:00", ""), interop.Standing{Since: at(t, "2026-03-03T10:00:00Z")}, nil},
		{"discharged, and a line placed after", ash("2026-03-01 10:00", "") + "L3,Ash,,R00001,2026-03-04 10:00,wrist,left,20,,,,,,,,,\n",
			interop.Standing{Since: at(t, "2026-03-03T10:00:00Z")}, []string{"04 10:00 admission ward-ash"}},
		{"discharged, and admitted after", ash("2026-03-04 10:00", ""), interop.Standing{Since: at(t, "2026-03-03T10:00:00Z")}, []string{"04 10:00 admission ward-ash"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := read(t, head+c.rows, options())
			patient := s.Rows[0].Subject
			moves := s.Moves(patient, c.now)
			require.Equal(t, c.want, kindsAt(moves))
			require.Equal(t, moves, s.Moves(patient, c.now))
			for _, e := range moves {
				require.Empty(t, line.Check(e, line.MinuteOf(time.Date(2026, 3, 5, 12, 0, 0, 0, time.UTC))))
			}
		})
	}
}
