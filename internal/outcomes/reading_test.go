package outcomes_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
	"dwellbook/internal/words"
)

// told is what somebody reads, one sentence a line.
func told(t *testing.T, says []line.Message) string {
	t.Helper()
	var all []string
	for _, m := range says {
		text := words.Tell(t.Context(), m)
		require.NotContains(t, text, "[")
		require.NotContains(t, text, "<no value>")
		require.NotContains(t, text, "NaN")
		require.NotContains(t, text, "Inf")
		all = append(all, text)
	}
	return strings.Join(all, "\n")
}

// ended are n lines of a site out for a reason, the first after so many hours
// and each later one a step after the one before.
func ended(site line.Site, reason line.Reason, n int, first, step float64) []line.Course {
	var courses []line.Course
	for i := range n {
		c := lay(opens, opens+line.Minute((first+float64(i)*step)*60), reason)
		c.Site = site
		courses = append(courses, c)
	}
	return courses
}

func join(lists ...[]line.Course) (all []line.Course) {
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

func TestReading_SaysHowLongLinesLastAndHowSureThatIs(t *testing.T) {
	t.Parallel()
	const p, none = line.Phlebitis, line.NotNeeded
	unknown := ended(line.Wrist, p, 30, 20, 2)
	for i := range 6 {
		unknown[i].Precision = line.NotKnown
	}
	for name, c := range map[string]struct {
		courses []line.Course
		by      outcomes.By
		want    string
	}{
		"no line": {nil, outcomes.ByNothing, "No line was in during this time, as recorded."},
		"too few lines": {
			ended(line.Wrist, p, 19, 20, 2), outcomes.BySite,
			"Too few to tell how long lines last: that takes 20 lines of a group, and 10 failures among them. The curves show what was recorded, not how long lines last.",
		},
		"too few failures": {
			join(ended(line.Wrist, p, 9, 20, 2), ended(line.Wrist, none, 60, 30, 1)), outcomes.ByNothing,
			"Too few to tell how long lines last: that takes 20 lines of a group, and 10 failures among them. The curves show what was recorded, not how long lines last.",
		},
		"half": {
			join(ended(line.Wrist, p, 60, 10, 1), ended(line.Wrist, none, 40, 12, 1.5)), outcomes.ByNothing,
			"all lines: half fail within 51 h (43 h to 58 h), if none is taken out before it fails; 100 lines.",
		},
		"half, open": {
			join(ended(line.Wrist, p, 12, 30, 2), ended(line.Wrist, none, 14, 25, 2)), outcomes.ByNothing,
			"all lines: half fail within 46 h (at least 40 h; the record does not tell the other end), if none is taken out before it fails; 26 lines.",
		},
		"half, of few": {
			join(ended(line.Wrist, p, 12, 10, 8), ended(line.Wrist, none, 8, 25, 2)), outcomes.ByNothing,
			"all lines: half fail within 58 h (42 h to 82 h), if none is taken out before it fails; 20 lines.",
		},
		"share": {
			join(ended(line.Wrist, p, 30, 10, 2), ended(line.Wrist, none, 100, 60, 1)), outcomes.ByNothing,
			"all lines: at 96 h, 77 % have not failed (68 % to 83 %), if none is taken out before it fails; 130 lines.",
		},
		"share, early": {
			join(ended(line.Wrist, p, 12, 10, 1), ended(line.Wrist, none, 30, 5, 1.1)), outcomes.ByNothing,
			"all lines: at 24 h, 61 % have not failed (41 % to 76 %), if none is taken out before it fails; 42 lines.\n" +
				"The interval is wide: the record does not pin this figure down.",
		},
		"too early": {
			join(ended(line.Wrist, p, 10, 2, 1), ended(line.Wrist, none, 30, 3, 0.5)), outcomes.ByNothing,
			"Too few lines were followed for a day to say how long they last.",
		},
		"late failures": {
			join(ended(line.Wrist, p, 10, 100, 1), ended(line.Wrist, none, 30, 105, 0.1)), outcomes.ByNothing,
			"all lines: half fail within 108 h (at least 108 h; the record does not tell the other end), if none is taken out before it fails; 40 lines.",
		},
		"two that differ": {
			join(ended(line.Wrist, p, 40, 60, 1), ended(line.HandDorsum, p, 40, 20, 1)), outcomes.BySite,
			"Half of the lines fail within 40 h in the group that lasts shortest (back of hand), within 80 h in the one that lasts longest (wrist).\n" +
				"The groups differ by more than chance explains, p < 0.001.\n" +
				"Sites are chosen, not drawn by lot: the veins and the patients differ too.",
		},
		"two alike": {
			join(ended(line.Wrist, p, 40, 20, 1), ended(line.HandDorsum, p, 40, 21, 1)), outcomes.BySite,
			"Half of the lines fail within 40 h in the group that lasts shortest (wrist), within 40 h in the one that lasts longest (back of hand).\n" +
				"The groups differ by no more than chance explains, p = 0.59: that does not show that they are alike.\n" +
				"Sites are chosen, not drawn by lot: the veins and the patients differ too.",
		},
		"two, one not come to half": {
			join(ended(line.Wrist, p, 40, 20, 1), ended(line.HandDorsum, p, 12, 20, 2), ended(line.HandDorsum, none, 60, 60, 1)), outcomes.BySite,
			"At 48 h, 27 % have not failed in the group that lasts shortest (wrist), 83 % in the one that lasts longest (back of hand).\n" +
				"At least one of the two figures has a wide interval: the record does not pin it down.\n" +
				"The groups differ by more than chance explains, p < 0.001.\n" +
				"Sites are chosen, not drawn by lot: the veins and the patients differ too.",
		},
		"four": {
			join(ended(line.Wrist, p, 20, 20, 3), ended(line.HandDorsum, p, 20, 21, 3), ended(line.Forearm, p, 20, 22, 3),
				ended(line.UpperArm, p, 20, 23, 3)), outcomes.BySite,
			"Half of the lines fail within 48 h in the group that lasts shortest (wrist), within 52 h in the one that lasts longest (upper arm).\n" +
				"The groups differ by no more than chance explains, p = 0.88: that does not show that they are alike.\n" +
				"With 4 groups side by side the shortest and the longest lie apart by chance alone: go by the test of all together.\n" +
				"Sites are chosen, not drawn by lot: the veins and the patients differ too.",
		},
		"one told of two": {
			join(ended(line.Wrist, p, 40, 20, 1), ended(line.HandDorsum, p, 15, 20, 1)), outcomes.BySite,
			"wrist: half fail within 40 h (33 h to 45 h), if none is taken out before it fails; 40 lines.\n" +
				"One group has fewer than 20 lines or 10 failures: too few to tell.",
		},
		"two left out": {
			join(ended(line.Wrist, p, 40, 20, 1), ended(line.HandDorsum, p, 3, 20, 1), ended(line.Ankle, p, 1, 20, 1)), outcomes.BySite,
			"wrist: half fail within 40 h (33 h to 45 h), if none is taken out before it fails; 40 lines.\n" +
				"2 groups have fewer than 20 lines or 10 failures: too few to tell.",
		},
		"starts not known": {
			unknown, outcomes.ByNothing,
			"all lines: half fail within 49 h (38 h to 60 h), if none is taken out before it fails; 30 lines.\n" +
				"6 of 30 lines have no known start and count from when they were first seen, so true times are longer.",
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got := told(t, follow(t, c.courses, outcomes.Asked{Period: period, By: c.by}).Reading())
			require.Equal(t, c.want, got)
		})
	}
}

func TestReading_SaysWhatElseMayLieBehindADifference(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, by := range outcomes.Bys() {
		first, second := ended(line.Wrist, line.Phlebitis, 40, 60, 1), ended(line.HandDorsum, line.Phlebitis, 40, 20, 1)
		for i := range second {
			second[i].Line, second[i].Ward, second[i].Side, second[i].Gauge, second[i].Asepsis = 2, 2, line.Right, 22, line.AsepsisFull+1
		}
		text := told(t, follow(t, join(first, second), outcomes.Asked{Period: period, By: by}).Reading())
		t.Log(text)
		require.Contains(t, text, "differ by more than chance explains, p < 0.001")
		last := text[strings.LastIndex(text, "\n"):]
		require.False(t, seen[last], "by %s", by)
		seen[last] = true
	}
}

func TestReadCauses_SaysTheCommonestFailure(t *testing.T) {
	t.Parallel()
	const none = line.NotNeeded
	for name, c := range map[string]struct {
		courses []line.Course
		want    string
	}{
		"few": {ended(line.Wrist, line.Leak, 19, 10, 1), "Too few to tell: fewer than 20 lines."},
		"early": {
			join(ended(line.Wrist, line.Leak, 9, 10, 1), ended(line.Wrist, line.FoundGone, 11, 40, 0)),
			"No line was followed as far as 72 h: what ended them by then cannot be told.",
		},
		"no failure": {
			ended(line.Wrist, none, 40, 10, 1),
			"By 72 h no line had failed; 100 % came out without failing. 40 lines.",
		},
		"commonest": {
			join(ended(line.Wrist, line.Leak, 20, 10, 1), ended(line.Wrist, line.Occlusion, 35, 10, 1), ended(line.Wrist, none, 60, 40, 2)),
			"By 72 h, 30 % of lines ended with occlusion (22 % to 39 %), the commonest failure; 15 % came out without failing. 115 lines.",
		},
		"wide": {
			join(ended(line.Wrist, line.Leak, 3, 10, 1), ended(line.Wrist, none, 40, 40, 2)),
			"By 72 h, 7.0 % of lines ended with leak (1.8 % to 17 %), the commonest failure; 40 % came out without failing. 43 lines.\n" +
				"The interval is wide: the record does not pin this figure down.",
		},
		"only one": {
			ended(line.Wrist, line.Leak, 20, 10, 1),
			"By 72 h, 100 % of lines ended with leak (how sure that is cannot be told), the commonest failure; 0 % came out without failing. 20 lines.",
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			g := follow(t, c.courses, outcomes.Asked{Period: period}).Groups[0]
			require.Equal(t, c.want, told(t, g.ReadCauses(72)))
		})
	}
}

func TestReadRates_ComparesTheHighestWithTheOthers(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		rates []stats.Rate // the highest first
		want  string
	}{
		"no ward":  {nil, "No line was in during this time, as recorded."},
		"no days":  {[]stats.Rate{{Events: 1}}, "No line was in during this time, as recorded."},
		"no event": {[]stats.Rate{{Exposure: 1}, {Exposure: 2}}, "No such event is recorded in this time."},
		"one ward": {
			[]stats.Rate{{Events: 12, Exposure: 0.5}},
			"24.0 per 1000 cannula-days (12.4 to 41.9); only one ward has lines in this time.",
		},
		"differ": {
			[]stats.Rate{{Events: 30, Exposure: 0.5}, {Events: 10, Exposure: 0.5}, {Events: 10, Exposure: 0.6}},
			"Birch has the highest rate, 60.0 per 1000 cannula-days against 18.2 in the other wards together: 3.30 times as high (1.81 to 6.13).\n" +
				"That is more than chance explains, also when the highest of 3 is picked; but wards differ in which lines they place.",
		},
		"highest of three": {
			[]stats.Rate{{Events: 20, Exposure: 0.5}, {Events: 10, Exposure: 0.5}, {Events: 10, Exposure: 0.6}},
			"Birch has the highest rate, 40.0 per 1000 cannula-days against 18.2 in the other wards together: 2.20 times as high (1.12 to 4.31).\n" +
				"Of 3 wards one is always the highest; this is no more than chance explains.",
		},
		"alike": {
			[]stats.Rate{{Events: 12, Exposure: 0.5}, {Events: 10, Exposure: 0.5}, {Events: 10, Exposure: 0.6}},
			"Birch has the highest rate, 24.0 per 1000 cannula-days against 18.2 in the other wards together: 1.32 times as high (0.59 to 2.84).\n" +
				"Of 3 wards one is always the highest; this is no more than chance explains.",
		},
		"all on one": {
			[]stats.Rate{{Events: 12, Exposure: 0.5}, {Exposure: 0.5}, {Exposure: 0.6}},
			"All 12 were on Birch: 24.0 per 1000 cannula-days there.\n" +
				"That is more than chance explains, also when the highest of 3 is picked; but wards differ in which lines they place.",
		},
		"the one event": {
			[]stats.Rate{{Events: 1, Exposure: 0.5}, {Exposure: 0.5}},
			"The only one was on Birch: 2.00 per 1000 cannula-days there.\n" +
				"Of 2 wards one is always the highest; this is no more than chance explains.",
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			require.Equal(t, c.want, told(t, outcomes.ReadRates(c.rates, []any{"Birch", "Alder", "Cedar"})))
		})
	}
}

func TestFunnelReading_NamesWhatLiesOutside(t *testing.T) {
	t.Parallel()
	labels := []any{"Birch", "Alder", "Cedar", "Damson", "Elder", "Fir"}
	for name, c := range map[string]struct {
		rates []stats.Rate
		want  string
	}{
		"two wards": {
			[]stats.Rate{{Events: 12, Exposure: 0.5}, {Events: 10, Exposure: 0.6}},
			"Too few to tell: it takes three wards with lines in and an event among them.",
		},
		"no event": {
			[]stats.Rate{{Exposure: 0.5}, {Exposure: 0.6}, {Exposure: 1}},
			"Too few to tell: it takes three wards with lines in and an event among them.",
		},
		"inside": {
			[]stats.Rate{{Events: 12, Exposure: 0.5}, {Events: 10, Exposure: 0.6}, {Events: 11, Exposure: 0.5}, {}},
			"All 3 wards lie within the limits that chance allows around 20.6 per 1000 cannula-days.\n" +
				"But wards differ in which lines they place and in their patients: compare like with like before you judge.",
		},
		"one high": {
			[]stats.Rate{{Events: 24, Exposure: 0.5}, {Events: 10, Exposure: 0.5}, {Events: 11, Exposure: 0.5}, {Events: 12, Exposure: 0.5}, {Events: 10, Exposure: 0.5}, {Events: 11, Exposure: 0.5}},
			"Birch lies above the inner limit: 48.0 against 26.0 in all; of twenty wards one does by chance.\n" +
				"But wards differ in which lines they place and in their patients: compare like with like before you judge.",
		},
		"spread": {
			[]stats.Rate{{Events: 90, Exposure: 0.5}, {Events: 5, Exposure: 0.5}, {Events: 30, Exposure: 0.5}, {Events: 40, Exposure: 0.5}, {Events: 25, Exposure: 0.5}, {Events: 33, Exposure: 0.5}},
			"Birch lies above the outer limit: 180 against 74.3 in all, more than chance explains.\n" +
				"Alder lies below the inner limit: 10.0 against 74.3 in all; of twenty wards one does by chance.\n" +
				"Wards differ by more than chance even without any that stands out, so the limits are 2.59 times as wide.\n" +
				"But wards differ in which lines they place and in their patients: compare like with like before you judge.",
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			require.Equal(t, c.want, told(t, outcomes.NewFunnel(c.rates).Reading(labels)))
		})
	}
}

// outDaily are lines of a day's dwell, n of them out each day, of which the
// first few so many had phlebitis.
func outDaily(n int, phlebitis ...int) (courses []line.Course) {
	for day, bad := range phlebitis {
		for i := range n {
			reason := line.NotNeeded
			if i < bad {
				reason = line.Phlebitis
			}
			placed := line.Minute(day * 24 * 60)
			courses = append(courses, lay(placed, placed+24*60, reason))
		}
	}
	return courses
}

func TestWatchReading_SaysWhetherItIsMoreThanUsual(t *testing.T) {
	t.Parallel()
	weeks := func(n int, each ...int) []line.Course {
		var days []int
		for _, bad := range each {
			days = append(days, bad, 0, 0, 0, 0, 0, 0)
		}
		return outDaily(n, days...)
	}
	steady := []int{4, 6, 5, 4, 6, 5, 4, 6, 5, 4, 6}
	for name, c := range map[string]struct {
		courses []line.Course
		want    string
	}{
		"no line": {nil, "phlebitis at removal: 0 in this time. That is too few for a chart."},
		"none":    {weeks(10, 0, 0, 0), "phlebitis at removal: 0 in this time. That is too few for a chart."},
		"one":     {weeks(10, 0, 1, 0), "phlebitis at removal: one in this time. That is too few for a chart."},
		"few weeks": {
			weeks(10, 4, 5, 4),
			"Too few to tell: with fewer than 8 points nobody knows what is usual here.",
		},
		"steady": {
			weeks(10, steady...),
			"phlebitis at removal: 55 in this time, on average 71.4 per 1000 cannula-days.\n" +
				"No special cause shows: the ups and downs are such as chance makes.",
		},
		"a bad week": {
			weeks(20, append(steady, 20)...),
			"phlebitis at removal: 75 in this time, on average 44.6 per 1000 cannula-days.\n" +
				"At 5 points more than chance may be at work; they are marked and named.",
		},
		"rare": {
			weeks(10, 1, 0, 1, 1, 0, 1, 1, 0, 1, 1, 0, 1, 1, 0, 1, 1),
			"phlebitis at removal: 11 in this time, on average 104 lines come out between two.\n" +
				"No special cause shows: the ups and downs are such as chance makes.",
		},
		"rarer": {
			weeks(10, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 1),
			"phlebitis at removal: 10 in this time, on average 131 lines come out between two.\n" +
				"Once, more lines came out between two than chance explains: that is good news, and it is marked.",
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			whole := line.Stretch{From: -1000, Until: 1}
			for _, course := range c.courses {
				whole.Until = max(whole.Until, course.Out+1)
			}
			w := outcomes.Watch(c.courses, outcomes.PhlebitisAtRemoval, whole, time.UTC)
			require.Equal(t, c.want, told(t, w.Reading()))
		})
	}
}
