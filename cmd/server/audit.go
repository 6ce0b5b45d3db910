package main

import (
	"context"
	"time"

	"dwellbook/internal/app"
)

func auditLines(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("audit", "-db FILE [flags]", std)
	var q app.AuditQuery
	f.StringVar(&q.DB, "db", "", "the record's `file`")
	f.StringVar(&q.At, "at", "", "the `moment` asked about: RFC 3339, or a date (default now)")
	f.StringVar(&q.KnownAt, "known-at", "", "as it was known at this `moment`, or after entry #N (default as known now)")
	f.StringVar(&q.Ward, "ward", "", "only this `ward`, by name or id")
	f.StringVar(&q.Zone, "zone", "", "the `zone` for bare dates and for the answer (default the hospital's)")
	f.StringVar(&q.Policy, "policy", "", "try this policy `file` instead of the one in force")
	asJSON := f.Bool("json", false, "answer in JSON")
	failOn := f.String("fail-on", "", "end with 1 if there is a finding of this `severity`: act-now, due or advise")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if err := need("-db", q.DB); err != nil {
		return misused, err
	}
	switch *failOn {
	case "", "act-now", "due", "advise":
	default:
		return misused, &app.Misuse{Text: "-fail-on takes act-now, due or advise"}
	}
	a, err := app.Audit(ctx, q, time.Now)
	if err != nil {
		return undone, err
	}
	if end, err := answer(std, a.Table, a.JSON, *asJSON); err != nil {
		return end, err
	}
	if *failOn != "" && a.Has(*failOn) {
		return found, nil
	}
	return done, nil
}
