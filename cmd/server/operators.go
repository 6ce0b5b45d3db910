package main

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"dwellbook/internal/app"
)

func operators(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("operators", "(-db FILE | [-db FILE] -episodes FILE.csv [-map MAP]) [flags]", std)
	var q app.OperatorsQuery
	f.StringVar(&q.DB, "db", "", "the record's `file`; with a table, its hospital's settings")
	f.StringVar(&q.Episodes, "episodes", "", "instead of a record's attempts, a `table` of lines, one a row")
	f.StringVar(&q.Map, "map", "", "how the table's headings, codes and dates are to be read: a mapping `file`")
	f.StringVar(&q.From, "from", "", "occasions from this `moment` on: RFC 3339, or a date (default the first)")
	f.StringVar(&q.To, "to", "", "and before this `moment` (default to the last)")
	f.StringVar(&q.Zone, "zone", "", "the `zone` for bare dates (default the hospital's; of a table alone, UTC)")
	for _, n := range []struct {
		flag, usage string
		into        **float64
	}{
		{"acceptable", "the acceptable `rate` of first attempts that fail (default the hospital's)", &q.Acceptable},
		{"unacceptable", "the unacceptable `rate` (default the hospital's)", &q.Unacceptable},
		{"learning-limit", "the `limit` of the learning sum (default the hospital's; 0: worked out)", &q.LearningLimit},
		{"watch-limit", "the `limit` of the watching sum (default the hospital's; 0: worked out)", &q.WatchLimit},
	} {
		f.Func(n.flag, n.usage, func(text string) error {
			x, err := strconv.ParseFloat(text, 64)
			if err != nil {
				return fmt.Errorf("%q is no number", text)
			}
			*n.into = &x
			return nil
		})
	}
	f.BoolVar(&q.Reset, "reset", false, "begin either sum again after each signal")
	asJSON := f.Bool("json", false, "answer in JSON")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if q.DB == "" && q.Episodes == "" {
		return misused, &app.Misuse{Text: "give -db, -episodes or both"}
	}
	all, err := app.OperatorsOf(ctx, q, time.Now)
	if err != nil {
		return undone, err
	}
	return answer(std, all.Table, all.JSON, *asJSON)
}
