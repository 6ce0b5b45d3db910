package view

import (
	"context"
	"math/bits"
	"slices"

	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/words"
)

// learning is the sums of the record; files of them there are none, since they
// are one person's.
func (p OwnRecord) learning(ctx context.Context) []ChartFigure {
	return LearningFigures(ctx, p.Progress)
}

func (p OwnRecord) parts(ctx context.Context) ChartFigure {
	return PartsFigure(ctx, p.Record, p.Progress, p.By)
}

func (p OwnRecord) units(ctx context.Context) []Option {
	var all []Option
	for _, u := range []outcomes.Unit{outcomes.PerOccasion, outcomes.PerAttempt} {
		all = append(all, Option{Value: u.String(), Label: words.Say(ctx, "learningpage.unit-"+u.String())})
	}
	return all
}

func (p OwnRecord) groupings(ctx context.Context) []Option {
	var all []Option
	for _, by := range outcomes.AttemptBys() {
		if by != outcomes.ByDifficulty || p.Progress.Terms.Difficulty {
			all = append(all, Option{Value: by.String(), Label: words.Say(ctx, "learningpage.part-"+by.String())})
		}
	}
	return all
}

// terms says by which rates and limits the sums are drawn, and what they mean.
func (p OwnRecord) terms(ctx context.Context) string {
	t, b := p.Progress.Curve.Standard, p.Progress.Behaviour
	return words.Say(ctx, "learningpage.terms", "acceptable", line.Share(t.Acceptable), "unacceptable", line.Share(t.Unacceptable),
		"learning", line.Number(t.LearningLimit), "watch", line.Number(t.WatchLimit), "adequate", line.Number(b.AdequateIn), "units", p.Progress.Unit.Plural(),
		"noticed", line.Number(b.NoticedIn), "alarm", line.Number(b.FalseAlarmIn))
}

// expected says whether there were more or fewer failures than usual here.
func (p OwnRecord) expected(ctx context.Context) string {
	if p.Progress.CaseMix == nil {
		return words.Say(ctx, "learningpage.expected-none")
	}
	return tellAll(ctx, p.Progress.CaseMix.Reading(p.Progress.CaseMix.Expected(p.Record)))
}

func (p OwnRecord) supervised(ctx context.Context) string {
	s := p.Progress.Supervised
	if s.Left() == 0 {
		return words.Say(ctx, "learningpage.supervised-done", "asked", s.Asked, "at", words.To(ctx).In(p.House.Zone).Stamp(s.At))
	}
	return words.Say(ctx, "learningpage.supervised", "done", s.Successes, "asked", s.Asked, "n", s.Left())
}

// helpedFaults is for how many faults the page says what usually helps.
const helpedFaults = 2

func (p OwnRecord) commonest() []outcomes.FaultCourse {
	return p.Progress.Faults[:min(helpedFaults, len(p.Progress.Faults))]
}

// faults is what went wrong, in four parts of the record.
func (p OwnRecord) faults(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "ownrecord.faults"), Columns: []Column{
		{Label: words.Say(ctx, "ownrecord.fault")}, {Label: words.Say(ctx, "ownrecord.times"), Num: true},
	}}
	for _, quarter := range []string{"first", "second", "third", "last"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "learningpage.quarter-"+quarter), Num: true})
	}
	for _, f := range p.Progress.Faults {
		row := []Cell{{Text: words.Say(ctx, f.Fault.Word())}, {Text: count(f.N)}}
		for _, q := range f.Quarters {
			row = append(row, Cell{Text: words.Say(ctx, "learningpage.of", "x", q.Successes, "n", q.Trials)})
		}
		t.Rows = append(t.Rows, TableRow{Cells: row})
	}
	return t
}

// faultHelp is what usually helps against a fault; empty where nothing is said.
func faultHelp(ctx context.Context, f line.Fault) string {
	if key := "help." + f.String(); words.Known(key) {
		return words.Say(ctx, key)
	}
	return ""
}

func (p OwnRecord) now(ctx context.Context) string { return words.To(ctx).In(p.House.Zone).Stamp(p.At) }

// Sheet is every attempt for a spreadsheet: no patient, no line.
func (p OwnRecord) Sheet(ctx context.Context) [][]string {
	rows := [][]string{say(ctx, "learningpage.csv-", "when", "attempt", "of", "site", "side", "gauge", "ward", "result", "fault", "supervised", "difficulty")}
	for _, t := range slices.All(p.Record.Tried) {
		result, fault := "placed", ""
		if t.Failed {
			result, fault = "failed", t.Fault.String()
		}
		difficulty := ""
		if t.Assessed {
			difficulty = count(bits.OnesCount32(uint32(t.Difficulty)))
		}
		supervised := "no"
		if t.Supervised {
			supervised = "yes"
		}
		rows = append(rows, []string{
			t.At.Time().In(p.House.Zone).Format("2006-01-02 15:04"), count(t.No), count(t.Of), t.Site.String(), t.Side.String(), count(int(t.Gauge)),
			p.House.WardByKey(t.Ward).Name, result, fault, supervised, difficulty,
		})
	}
	return rows
}
