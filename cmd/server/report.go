package main

import (
	"bytes"
	"context"
	"os"
	"time"

	"dwellbook/internal/app"
)

func report(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("report", "-db FILE [-month 2026-10] [flags]", std)
	var q app.ReportQuery
	f.StringVar(&q.DB, "db", "", "the record's `file`")
	f.StringVar(&q.Month, "month", "", "the `month`, such as 2026-10 (default the last whole one)")
	f.StringVar(&q.KnownAt, "known-at", "", "as it was known at this `moment`, or after entry #N (default as known now)")
	to := f.String("to", "", "write the report to this `file` (default standard output)")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if err := need("-db", q.DB); err != nil {
		return misused, err
	}
	var out bytes.Buffer
	if err := app.Report(ctx, &out, q, time.Now); err != nil {
		return undone, err
	}
	if *to != "" {
		if err := os.WriteFile(*to, out.Bytes(), 0o644); err != nil { // #nosec G306 -- to be handed on; it names wards and shifts, no person
			return undone, err
		}
		return done, nil
	}
	_, err := out.WriteTo(std.out)
	return done, err
}
