package main

import (
	"bytes"
	"context"
	"io"
	"time"

	"dwellbook/internal/app"
)

func compliance(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("compliance", "-db FILE -from T -to T [flags]", std)
	var q app.ComplianceQuery
	f.StringVar(&q.DB, "db", "", "the record's `file`")
	f.StringVar(&q.From, "from", "", "duties that fell due from this `moment` on: RFC 3339, or a date")
	f.StringVar(&q.To, "to", "", "and before this `moment`")
	f.StringVar(&q.At, "at", "", "judged at this `moment`: later entries meet nothing (default now)")
	f.StringVar(&q.KnownAt, "known-at", "", "as it was known at this `moment`, or after entry #N (default as known now)")
	f.StringVar(&q.Ward, "ward", "", "only this `ward`, by name or id")
	f.StringVar(&q.By, "by", "rule", "a `group` for each ward, shift, rule or weekday")
	f.StringVar(&q.Zone, "zone", "", "the `zone` for bare dates and for the answer (default the hospital's)")
	f.StringVar(&q.Policy, "policy", "", "try this policy `file` instead of those in force")
	asJSON := f.Bool("json", false, "answer in JSON")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	for _, f := range []struct{ flag, value string }{{"-db", q.DB}, {"-from", q.From}, {"-to", q.To}} {
		if err := need(f.flag, f.value); err != nil {
			return misused, err
		}
	}
	c, err := app.Compliance(ctx, q, time.Now)
	if err != nil {
		return undone, err
	}
	return answer(std, c.Table, c.JSON, *asJSON)
}

// answer writes an answer, whole or not at all.
func answer(std streams, table, asJSON func(io.Writer) error, json bool) (int, error) {
	write := table
	if json {
		write = asJSON
	}
	var out bytes.Buffer
	if err := write(&out); err != nil {
		return undone, err
	}
	if _, err := out.WriteTo(std.out); err != nil {
		return undone, err
	}
	return done, nil
}
