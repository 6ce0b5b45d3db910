package interop_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/interop"
	"dwellbook/internal/line"
)

func TestRow_Spellings(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		cell string
		want line.Occasion
	}{
		// Hub colours: ISO 10555-5:2013, as in line.Gauge.
		{"gauge=20", line.Occasion{Gauge: 20}}, {"gauge=20g", line.Occasion{Gauge: 20}}, {"gauge=20 G", line.Occasion{Gauge: 20}},
		{"gauge=Pink", line.Occasion{Gauge: 20}}, {"gauge=orange", line.Occasion{Gauge: 14}}, {"gauge=gray", line.Occasion{Gauge: 16}},
		{"gauge=GREY", line.Occasion{Gauge: 16}}, {"gauge=white", line.Occasion{Gauge: 17}}, {"gauge=green", line.Occasion{Gauge: 18}},
		{"gauge=blue", line.Occasion{Gauge: 22}}, {"gauge=yellow", line.Occasion{Gauge: 24}}, {"gauge=violet", line.Occasion{Gauge: 26}},
		{"gauge=", line.Occasion{}}, {"gauge=n/k", line.Occasion{}},
		// Trade words: common practice, no source.
		{"site=ACF", line.Occasion{Site: line.ElbowCrease}}, {"site=Antecubital  Fossa", line.Occasion{Site: line.ElbowCrease}},
		{"site=back of hand", line.Occasion{Site: line.HandDorsum}}, {"site=hand_dorsum", line.Occasion{Site: line.HandDorsum}},
		{"site=External jugular", line.Occasion{Site: line.Neck}}, {"site=upper arm", line.Occasion{Site: line.UpperArm}},
		{"side=L", line.Occasion{Side: line.Left}}, {"side=R", line.Occasion{Side: line.Right}}, {"side=RIGHT", line.Occasion{Side: line.Right}},
		{"side=-", line.Occasion{}}, {"asepsis=Not full", line.Occasion{Asepsis: line.AsepsisNotFull}},
		{"asepsis=unknown", line.Occasion{Asepsis: line.AsepsisNotKnown}}, {"asepsis=", line.Occasion{}},
		{"dressing=transparent film", line.Occasion{Dressing: line.Film}}, {"attempts=20", line.Occasion{Count: 20}},
		{"operator=NA", line.Occasion{Operator: line.Operator{Written: "NA"}}},
	} {
		t.Run(c.cell, func(t *testing.T) {
			t.Parallel()
			got := entryOf(t, one(t, options(), "side=", "gauge=", c.cell), line.KindOccasion).Body.(line.Occasion)
			if c.want.Site == 0 {
				c.want.Site = line.Forearm
			}
			c.want.Outcome = line.WithLine
			require.Equal(t, c.want, got)
		})
	}
}

func TestRow_Refused(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ cells, column, what string }{
		{"line_id=", "line_id", "is blank"},
		{"ward=", "ward", "is blank"},
		{"ward=Elm", "ward", "no ward is called “Elm”"},
		{"site=", "site", "is blank"},
		{"site=internal jugular", "site", "“internal jugular” is not known"},
		{"site=R forearm", "site", "“R forearm” says another side than the side column, which says left"},
		{"side=middle", "side", "“middle” is not known"},
		{"patient_ref=12345", "patient_ref", "“12345” does not fit the hospital’s pattern of patient references"},
		{"gauge=19", "gauge", "“19” is no gauge that exists"},
		{"gauge=red", "gauge", "“red” is no gauge that exists"},
		{"attempts=0", "attempts", "“0” is not a whole number from 1 to 20"},
		{"attempts=21", "attempts", "“21” is not a whole number from 1 to 20"},
		{"attempts=two", "attempts", "“two” is not a whole number from 1 to 20"},
		{"last_review_at=2026-03-03|last_score=6", "last_score", "“6” is not a whole number from 0 to 5"},
		{"last_score=2", "last_review_at", "is blank, but the row has a score"},
		{"removal_reason=leak", "removed_at", "is blank, but the row has a reason for removal"},
		{"inserted_at=2026-03-05 12:03", "inserted_at", "“2026-03-05 12:03” is in the future"},
		{"inserted_at=2026-03-06", "inserted_at", "“2026-03-06” is in the future"},
		{"inserted_at=0206-03-06", "inserted_at", "“0206-03-06” is before the year 2000"},
		{"inserted_at=02/03/2026", "inserted_at", "“02/03/2026” is no time that can be read"},
		{"inserted_at=2026-02-30", "inserted_at", "“2026-02-30” is no time that can be read"},
		{"inserted_at=45352.5", "inserted_at", "“45352.5” is no time that can be read"},
		{"removed_at=2026-03-02 08:19", "removed_at", "“2026-03-02 08:19” is before inserted_at, which says “2026-03-02 08:20”"},
		{"removed_at=2026-03-01", "removed_at", "“2026-03-01” is before inserted_at, which says “2026-03-02 08:20”"},
		{"last_review_at=2026-03-02 08:19", "last_review_at", "“2026-03-02 08:19” is before inserted_at, which says “2026-03-02 08:20”"},
		{"dressed_at=2026-03-01 08:00", "dressed_at", "“2026-03-01 08:00” is before inserted_at, which says “2026-03-02 08:20”"},
		{"last_review_at=2026-03-03 09:00|removed_at=2026-03-03 08:00", "removed_at", "“2026-03-03 08:00” is before last_review_at, which says “2026-03-03 09:00”"},
		{"operator=\x01", "operator", "holds characters that are no text in UTF-8"},
		{"operator=M\xfcller", "operator", "holds characters that are no text in UTF-8"},
		{"bed=" + strings.Repeat("x", 201), "bed", "is longer than 200 characters"},
	} {
		t.Run(c.what, func(t *testing.T) {
			t.Parallel()
			s := one(t, options(), strings.Split(c.cells, "|")...)
			require.Empty(t, s.Rows)
			require.Len(t, s.Bad, 1)
			require.Len(t, s.Bad[0].Problems, 1, "%v", problems(s))
			require.Equal(t, 2, s.Bad[0].Number)
			require.Equal(t, c.column, s.Bad[0].Problems[0].Column)
			require.Equal(t, c.what, say(s.Bad[0].Problems[0].What))
			require.NotContains(t, say(s.Bad[0].Problems[0].Allowed), "[interop")
			require.NotContains(t, say(s.Bad[0].Problems[0].Allowed), "<no value>")
		})
	}
}

func TestRow_AllProblemsOfARowAndItsLineInTheFile(t *testing.T) {
	t.Parallel()
	s := read(t, head+"L1,Ash,3,\"R00001\n\",2026-03-02,forearm,left,20,,,,,,,,,\nL2,Elm,,x,,nose,up,19,,99,,,,,9,,\n", options())
	require.Len(t, s.Rows, 1)
	require.Len(t, s.Bad, 1)
	require.Equal(t, 4, s.Bad[0].Number, "a cell over two lines comes before it")
	require.Len(t, s.Bad[0].Problems, 7, "%v", problems(s))
}

func TestRow_Times(t *testing.T) {
	t.Parallel()
	o := options()
	o.Now = time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)
	m, err := interop.ParseMapping("m", []byte(`date_formats = ["DD/MM/YYYY HH:mm", "D-MMM-YY", "D.M.YYYY H.mm"]`))
	require.NoError(t, err)
	o.Mapping = m
	// Europe/London went to summer time on 29 March 2026 at 01:00 and back on
	// 25 October 2026 at 02:00 local (IANA time zone database).
	for _, c := range []struct {
		cell, want string
		precision  line.Precision
		problem    string
	}{
		{cell: "2026-03-02T08:20:31Z", want: "2026-03-02T08:20:00Z", precision: line.ToMinute},
		{cell: "2026-07-02T08:20:00+02:00", want: "2026-07-02T06:20:00Z", precision: line.ToMinute},
		{cell: "2026-07-02 08:20", want: "2026-07-02T07:20:00Z", precision: line.ToMinute},
		{cell: "2026-07-02  08:20:59", want: "2026-07-02T07:20:00Z", precision: line.ToMinute},
		{cell: "2026-07-02T08:20", want: "2026-07-02T07:20:00Z", precision: line.ToMinute},
		{cell: "2026-07-02 08:20 +02:00", want: "2026-07-02T06:20:00Z", precision: line.ToMinute},
		{cell: "2026-07-02", want: "2026-07-01T23:00:00Z", precision: line.ToDay},
		{cell: "02/07/2026 08:20", want: "2026-07-02T07:20:00Z", precision: line.ToMinute},
		{cell: "2-Jul-26", want: "2026-07-01T23:00:00Z", precision: line.ToDay},
		{cell: "2.7.2026 8.20", want: "2026-07-02T07:20:00Z", precision: line.ToMinute},
		{cell: "2026-10-25 01:30", problem: "interop.twice"},
		{cell: "2026-10-25 01:30 first", want: "2026-10-25T00:30:00Z", precision: line.ToMinute},
		{cell: "2026-10-25 01:30 second", want: "2026-10-25T01:30:00Z", precision: line.ToMinute},
		{cell: "25/10/2026 01:30 +0000", want: "2026-10-25T01:30:00Z", precision: line.ToMinute},
		{cell: "2026-10-25 01:30 Z", want: "2026-10-25T01:30:00Z", precision: line.ToMinute},
		{cell: "2026-10-25 00:59", want: "2026-10-24T23:59:00Z", precision: line.ToMinute},
		{cell: "2026-10-25 02:00", want: "2026-10-25T02:00:00Z", precision: line.ToMinute},
		{cell: "2026-10-25", want: "2026-10-24T23:00:00Z", precision: line.ToDay},
		{cell: "2026-03-29 01:30", problem: "interop.skipped"},
		{cell: "2026-03-29 02:00", want: "2026-03-29T01:00:00Z", precision: line.ToMinute},
		{cell: "2026-03-29", want: "2026-03-29T00:00:00Z", precision: line.ToDay},
		{cell: "2026-07-02 first", problem: "interop.time"},
		{cell: "2/7/2026 08:20 tomorrow", problem: "interop.time"},
	} {
		t.Run(c.cell, func(t *testing.T) {
			t.Parallel()
			s := one(t, o, "inserted_at="+c.cell)
			if c.problem != "" {
				require.Len(t, s.Bad, 1)
				require.Equal(t, c.problem, s.Bad[0].Problems[0].What.Key)
				return
			}
			e := entryOf(t, s, line.KindOccasion)
			require.Equal(t, c.want, e.Happened.String())
			require.Equal(t, c.precision, e.Precision)
		})
	}
}

func TestRow_ADateThatCanBeReadInTwoWaysIsRefused(t *testing.T) {
	t.Parallel()
	o := options()
	m, err := interop.ParseMapping("m", []byte(`date_formats = ["D/M/YYYY", "M/D/YYYY"]`))
	require.NoError(t, err)
	o.Mapping = m
	require.Equal(t, "interop.two-ways", one(t, o, "inserted_at=2/1/2026").Bad[0].Problems[0].What.Key)
	require.Equal(t, at(t, "2026-02-02T00:00:00Z"), entryOf(t, one(t, o, "inserted_at=2/2/2026"), line.KindOccasion).Happened)
	require.Equal(t, at(t, "2026-02-13T00:00:00Z"), entryOf(t, one(t, o, "inserted_at=2/13/2026"), line.KindOccasion).Happened)
}

func TestRow_FirstSeen(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ cells, from, want string }{
		{"last_review_at=2026-03-03 09:00", "last_review_at", "2026-03-03T09:00:00Z"},
		{"last_review_at=2026-03-03 09:00|dressed_at=2026-03-02 09:00", "dressed_at", "2026-03-02T09:00:00Z"},
		{"removed_at=2026-03-04|last_review_at=2026-03-04 09:00", "removed_at", "2026-03-04T00:00:00Z"},
		{"bed=3", "as-of", "2026-03-05T12:00:00Z"},
	} {
		s := one(t, options(), append(strings.Split(c.cells, "|"), "inserted_at=")...)
		e := entryOf(t, s, line.KindOccasion)
		require.Equal(t, c.want, e.Happened.String(), c.cells)
		require.Equal(t, line.NotKnown, e.Precision)
		require.Equal(t, c.from, s.Rows[0].FirstSeen)
		for _, other := range s.Rows[0].Entries {
			require.GreaterOrEqual(t, other.Happened, e.Happened, "nothing was recorded of the line before it was first seen")
		}
	}
}

func TestRow_OpenLines(t *testing.T) {
	t.Parallel()
	o := options()
	for _, e := range one(t, o, "last_review_at=2026-03-03").Rows[0].Entries {
		require.NotEqual(t, line.KindRemoval, e.Kind)
	}
	m, err := interop.ParseMapping("m", []byte(`open_lines = "found-gone"`))
	require.NoError(t, err)
	o.Mapping, o.AsOf = m, time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	e := entryOf(t, one(t, o, "last_review_at=2026-03-03"), line.KindRemoval)
	require.Equal(t, line.Removal{Reason: line.FoundGone}, e.Body)
	require.Equal(t, at(t, "2026-03-04T10:00:00Z"), e.Happened)
	e = entryOf(t, one(t, options(), "removal_reason=found gone"), line.KindRemoval)
	require.Equal(t, at(t, "2026-03-05T12:00:00Z"), e.Happened)
	e = entryOf(t, one(t, options(), "removed_at=2026-03-03 10:00"), line.KindRemoval)
	require.Equal(t, line.Removal{Reason: line.OtherReason}, e.Body)
}

func TestRow_DressingIsThePlacementsUnlessItCameLater(t *testing.T) {
	t.Parallel()
	same := one(t, options(), "dressing=film", "dressed_at=2026-03-02")
	require.Equal(t, line.Film, entryOf(t, same, line.KindOccasion).Body.(line.Occasion).Dressing)
	later := one(t, options(), "dressing=film", "dressed_at=2026-03-03")
	require.Zero(t, entryOf(t, later, line.KindOccasion).Body.(line.Occasion).Dressing)
	require.Equal(t, line.Dressing{Material: line.Film}, entryOf(t, later, line.KindDressing).Body)
}

func TestRow_UnlikeRowsOfOneLineAreAllRefused(t *testing.T) {
	t.Parallel()
	row := "L1,Ash,3,R00001,2026-03-02,forearm,left,20,,,,,,,,,\n"
	s := read(t, head+row+" L1 , Ash,3,R00001,2026-03-02,forearm,left,20,,,,,,,,,\n", options())
	require.Len(t, s.Rows, 1)
	require.Equal(t, []int{3}, s.Repeated)
	s = read(t, head+row+strings.Replace(row, "left", "right", 1)+strings.Replace(row, "L1", "L2", 1), options())
	require.Len(t, s.Rows, 1)
	require.Len(t, s.Bad, 2)
	require.Equal(t, "“L1” stands again, with other content, on line 3", say(s.Bad[0].Problems[0].What))
}

// keys numbers ids, as a database would.
type keys map[line.ID]line.Key

func (k keys) key(id line.ID) line.Key {
	if k[id] == 0 {
		k[id] = line.Key(len(k) + 1)
	}
	return k[id]
}
func (k keys) SubjectKey(id line.ID) line.Key { return k.key("s" + id) }
func (k keys) LineKey(id line.ID) line.Key    { return k.key("l" + id) }
func (k keys) WardKey(id line.ID) line.Key    { return k.key("w" + id) }

// Whatever stands in the cells: a row is bad, or its entries are sound by
// themselves and contradict nothing.
func TestReadSheet_WhatIsReadContradictsNothing(t *testing.T) {
	t.Parallel()
	moments := []string{"", "2026-03-01", "2026-03-02", "2026-03-02 00:10", "2026-03-02 08:20", "2026-03-02 23:59", "2026-03-03", "2026-03-04 12:00"}
	rapid.Check(t, func(rt *rapid.T) {
		o := options()
		if rapid.Bool().Draw(rt, "found gone") {
			m, err := interop.ParseMapping("m", []byte(`open_lines = "found-gone"`))
			require.NoError(rt, err)
			o.Mapping = m
		}
		pick := func(name string, words ...string) string { return rapid.SampledFrom(words).Draw(rt, name) }
		var b strings.Builder
		b.WriteString(head)
		for range rapid.IntRange(1, 6).Draw(rt, "rows") {
			b.WriteString(strings.Join([]string{
				pick("line", "L1", "L2", "L3", "L4", "L5", "L6"), pick("ward", "Ash", "Birch"), pick("bed", "", "1"), pick("patient", "", "R00001", "R00002"),
				pick("inserted", moments...), "forearm", "left", "20", "JB", "1", "full", pick("dressing", "", "film"), pick("dressed", moments...),
				pick("reviewed", moments...), pick("score", "", "2"), pick("removed", moments...), pick("reason", "", "leak", "died", "discharged", "found-gone"),
			}, ",") + "\n")
		}
		s, err := interop.ReadSheet(strings.NewReader(b.String()), o)
		require.NoError(rt, err)
		k, seq := keys{}, int64(0)
		marks := map[line.ID][]line.Mark{}
		for _, r := range s.Rows {
			for _, e := range r.Entries {
				require.Empty(rt, line.Check(e, line.MinuteOf(o.Now)))
				seq++
				marks[e.Subject] = append(marks[e.Subject], line.Marks(e, k, seq, seq)...)
			}
		}
		for patient, all := range marks {
			h := line.Fold(all)
			require.Empty(rt, h.Conflicts, "%s\n%s", patient, b.String())
			for _, l := range h.Lines {
				require.True(rt, h.WardAt(l.Placed) != 0 || l.Out == l.Placed, "a line is placed in some ward:\n%s", b.String())
			}
		}
	})
}

// Where the placement is only first seen, two months' dressings are two entries.
func TestRow_DressingsOfALineFirstSeen(t *testing.T) {
	t.Parallel()
	march := one(t, options(), "inserted_at=", "dressing=film", "dressed_at=2026-03-02", "last_review_at=2026-03-02 09:00")
	later := one(t, options(), "inserted_at=", "dressing=gauze", "dressed_at=2026-03-04", "last_review_at=2026-03-04 09:00")
	require.False(t, interop.Changed(entryOf(t, march, line.KindOccasion), entryOf(t, later, line.KindOccasion)))
	require.NotEqual(t, entryOf(t, march, line.KindDressing).ID, entryOf(t, later, line.KindDressing).ID)
}

// A line first seen in the minute in which another's removal says that the
// patient died is of the same stay: it is not placed in no ward.
func TestReadSheet_ALineFirstSeenAsThePatientLeaves(t *testing.T) {
	t.Parallel()
	s, err := interop.ReadSheet(strings.NewReader(head+
		"L2,Ash,,R00001,,forearm,left,20,JB,1,full,,,2026-03-02 23:59,,,\n"+
		"L3,Ash,,R00001,,forearm,left,20,JB,1,full,,,2026-03-01,,2026-03-02 23:59,died\n"), options())
	require.NoError(t, err)
	k, seq := keys{}, int64(0)
	var marks []line.Mark
	for _, r := range s.Rows {
		for _, e := range r.Entries {
			seq++
			marks = append(marks, line.Marks(e, k, seq, seq)...)
		}
	}
	h := line.Fold(marks)
	require.Empty(t, h.Conflicts)
	require.Len(t, h.Lines, 2)
	for _, l := range h.Lines {
		require.NotZero(t, h.WardAt(l.Placed))
	}
}
