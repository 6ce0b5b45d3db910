package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
	"dwellbook/internal/words"
)

// AuditQuery is what the audit command is asked, as typed.
type AuditQuery struct {
	DB, At, KnownAt, Ward, Zone, Policy string
}

// Audited is the answer of the audit command.
type Audited struct {
	report *desk.Report
	ctx    context.Context
	zone   *time.Location
}

// Audit opens the record for reading and answers.
func Audit(ctx context.Context, q AuditQuery, clock func() time.Time) (answer Audited, err error) {
	err = reading(ctx, q.DB, q.Zone, clock, func(d *desk.Desk, t typed) error {
		question, err := q.question(t)
		if err != nil {
			return err
		}
		report, err := d.Audit(ctx, desk.System(), question)
		if err == nil {
			answer = Audited{report: report, ctx: Speaking(ctx, t.hospital(), t.zone, report.At), zone: t.zone}
		}
		return err
	})
	return answer, err
}

// reading opens a record for reading, for one question.
func reading(ctx context.Context, file, zone string, clock func() time.Time, ask func(*desk.Desk, typed) error) error {
	st, err := store.OpenReadOnly(ctx, file)
	if err != nil {
		return err
	}
	d := desk.New(st, clock)
	h, err := d.House(ctx)
	if err != nil {
		return errors.Join(err, st.Close())
	}
	t, err := typedFor(h, zone)
	if err != nil {
		return errors.Join(err, st.Close())
	}
	return errors.Join(ask(d, t), st.Close())
}

func (q AuditQuery) question(t typed) (question desk.Question, err error) {
	if question.At, err = t.moment("-at", q.At); err != nil {
		return question, err
	}
	if question.Known, err = t.known(q.KnownAt); err != nil {
		return question, err
	}
	if question.Ward, err = t.ward(q.Ward); err != nil {
		return question, err
	}
	question.Trial, err = t.policy(q.Policy)
	return question, err
}

// Has reports whether a finding of the severity is among the answer's.
func (a Audited) Has(severity string) bool {
	for _, i := range a.report.Items {
		if i.Severity.String() == severity {
			return true
		}
	}
	return false
}

type findingJSON struct {
	Subject  line.ID        `json:"subject"`
	Line     *line.ID       `json:"line"`
	Ward     string         `json:"ward"`
	Bed      string         `json:"bed"`
	Rule     line.Rule      `json:"rule"`
	Severity string         `json:"severity"`
	Since    string         `json:"since"`
	Overdue  *int           `json:"overdue_minutes"`
	Justif   bool           `json:"justified"`
	StillIn  bool           `json:"still_in"`
	Why      string         `json:"why"`
	Do       string         `json:"do"`
	Reason   map[string]any `json:"reason"`
	Source   string         `json:"source"`
}

// JSON writes the answer as one JSON document.
func (a Audited) JSON(w io.Writer) error {
	r := a.report
	findings := []findingJSON{}
	for _, i := range a.all() {
		f := findingJSON{
			Subject: i.Patient.ID, Ward: i.Ward.Name, Bed: i.Patient.Bed, Rule: i.Rule, Severity: i.Severity.String(),
			Since: a.stamp(i.Since), Justif: i.Justified, StillIn: i.StillIn, Why: words.Tell(a.ctx, i.Why), Do: words.Tell(a.ctx, i.Do),
			Reason: reason(i.Why), Source: i.Source,
		}
		if i.Line.ID != "" {
			f.Line = &i.Line.ID
		}
		if i.IsDuty {
			minutes := int(i.Overdue / time.Minute)
			f.Overdue = &minutes
		}
		findings = append(findings, f)
	}
	answer := struct {
		At       string        `json:"at"`
		KnownAt  string        `json:"known_at"`
		KnownSeq int64         `json:"known_seq"`
		Policy   string        `json:"policy"`
		Trial    bool          `json:"trial"`
		LinesIn  int           `json:"lines_in_situ"`
		Findings []findingJSON `json:"findings"`
	}{a.stamp(r.At), r.Known.At.In(a.zone).Format(time.RFC3339), r.Known.Seq, r.Policy.Name(), r.Trial, r.LinesIn, findings}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(answer)
}

// all are the items in their one order: severity, then since.
func (a Audited) all() []desk.Item { return desk.InOrder(a.report.Items, a.report.StillIn) }

func (a Audited) stamp(m line.Minute) string { return stamp(m, a.zone) }

// reason is a message's key and arguments, for programs.
func reason(m line.Message) map[string]any {
	out := map[string]any{"key": m.Key}
	for i := 0; i+1 < len(m.Args); i += 2 {
		v := m.Args[i+1]
		switch typed := v.(type) {
		case time.Duration:
			v = int(typed / time.Minute)
		case line.Minute:
			v = typed.String()
		case line.Gauge:
			v = int(typed)
		case line.Message:
			v = reason(typed)
		}
		out[fmt.Sprint(m.Args[i])] = v
	}
	return out
}

// Table writes the answer for people.
func (a Audited) Table(w io.Writer) error {
	r := a.report
	fmt.Fprintf(w, "As recorded, at %s, known up to entry #%d, %s", a.stamp(r.At), r.Known.Seq, r.Policy.Name())
	if r.Trial {
		fmt.Fprint(w, " (a trial)")
	}
	fmt.Fprintf(w, "\n%d lines in situ, %d findings\n\n", r.LinesIn, len(r.Items)+len(r.StillIn))
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "SEVERITY\tWARD\tBED\tRULE\tSINCE\tOVERDUE\tWHY")
	for _, i := range a.all() {
		overdue := ""
		if i.IsDuty {
			overdue = words.Span(a.ctx, i.Overdue)
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", i.Severity, i.Ward.Name, i.Patient.Bed, i.Rule,
			i.Since.Time().In(a.zone).Format("2006-01-02 15:04"), overdue, words.Tell(a.ctx, i.Why))
	}
	return t.Flush()
}
