package main

import (
	"context"
	"time"

	"dwellbook/internal/app"
)

func outcomes(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("outcomes", "(-db FILE | -episodes FILE.csv [-map MAP]) -from T -to T [flags]", std)
	var q app.OutcomesQuery
	f.StringVar(&q.DB, "db", "", "the record's `file`")
	f.StringVar(&q.Episodes, "episodes", "", "instead of a record, a `table` of lines, one a row")
	f.StringVar(&q.Map, "map", "", "how the table's headings, codes and dates are to be read: a mapping `file`")
	f.StringVar(&q.From, "from", "", "lines placed from this `moment` on: RFC 3339, or a date")
	f.StringVar(&q.To, "to", "", "and before this `moment`, to which they are followed")
	f.StringVar(&q.By, "by", "", "a `group` for each site, gauge, ward, side, operator-role or asepsis (default all together)")
	f.StringVar(&q.AtHours, "at-hours", "24,48,72,96", "`hours` of dwell at which survival and causes are told")
	f.StringVar(&q.Cohort, "cohort", "placed", "`which` lines: placed in the period, or in-situ at some time in it, entering late")
	f.StringVar(&q.Transform, "interval", "loglog", "`scale` of the intervals: plain, log or loglog")
	f.StringVar(&q.Zone, "zone", "", "the `zone` for bare dates and for the answer (default the hospital's; of a table, UTC)")
	asJSON := f.Bool("json", false, "answer in JSON")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if (q.DB == "") == (q.Episodes == "") {
		return misused, &app.Misuse{Text: "give either -db or -episodes"}
	}
	for _, f := range []struct{ flag, value string }{{"-from", q.From}, {"-to", q.To}} {
		if err := need(f.flag, f.value); err != nil {
			return misused, err
		}
	}
	became, err := app.Outcomes(ctx, q, time.Now)
	if err != nil {
		return undone, err
	}
	return answer(std, became.Table, became.JSON, *asJSON)
}
