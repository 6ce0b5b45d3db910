package app

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// ComplianceQuery is what the compliance command is asked, as typed.
type ComplianceQuery struct {
	DB, From, To, At, KnownAt, Ward, By, Zone, Policy string
}

// Counted is the answer of the compliance command.
type Counted struct {
	*desk.Compliance
	ctx  context.Context
	zone *time.Location
}

// Compliance opens the record for reading and counts the duties of a period.
func Compliance(ctx context.Context, q ComplianceQuery, clock func() time.Time) (answer Counted, err error) {
	err = reading(ctx, q.DB, q.Zone, clock, func(d *desk.Desk, t typed) error {
		question, err := q.question(t)
		if err != nil {
			return err
		}
		c, err := d.Compliance(ctx, desk.System(), question)
		if err == nil {
			answer = Counted{Compliance: c, ctx: Speaking(ctx, t.hospital(), t.zone, c.At), zone: t.zone}
		}
		return err
	})
	return answer, err
}

func (q ComplianceQuery) question(t typed) (question desk.PeriodQuestion, err error) {
	if question.Period.From, err = t.moment("-from", q.From); err != nil {
		return question, err
	}
	if question.Period.Until, err = t.moment("-to", q.To); err != nil {
		return question, err
	}
	if question.Period.From >= question.Period.Until {
		return question, &Misuse{Text: "-to must come after -from"}
	}
	if question.At, err = t.moment("-at", q.At); err != nil {
		return question, err
	}
	if question.Known, err = t.known(q.KnownAt); err != nil {
		return question, err
	}
	if question.Ward, err = t.ward(q.Ward); err != nil {
		return question, err
	}
	if q.By != "" {
		if question.By, err = audit.ParseBy(q.By); err != nil {
			return question, &Misuse{Text: "-by takes ward, shift, rule or weekday"}
		}
	}
	question.Trial, err = t.policy(q.Policy)
	return question, err
}

// groupJSON is one rule in one group.
type groupJSON struct {
	ID           string         `json:"id"`
	Name         string         `json:"name"`
	Rule         line.Rule      `json:"rule"`
	Lines        int            `json:"lines"`
	Due          int            `json:"due"`
	MetInTime    int            `json:"met_in_time"`
	MetLate      int            `json:"met_late"`
	Missed       int            `json:"missed"`
	Open         int            `json:"open"`
	Accepted     int            `json:"accepted"`
	NotSeen      int            `json:"not_seen"`
	Proportion   *float64       `json:"proportion"`
	Lower        float64        `json:"lower"`
	Upper        float64        `json:"upper"`
	ClusterLower float64        `json:"cluster_lower"`
	ClusterUpper float64        `json:"cluster_upper"`
	Overdue      float64        `json:"hours_overdue"`
	Unaccounted  float64        `json:"hours_unaccounted"`
	LateMedian   *float64       `json:"late_median_minutes"`
	LateP90      *float64       `json:"late_p90_minutes"`
	Unfinished   int            `json:"late_unfinished"`
	MetBy        map[string]int `json:"met_by"`
}

// unrecordedJSON is the lines found unrecorded in one group.
type unrecordedJSON struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	Found int    `json:"first_seen_unrecorded"`
	Gone  int    `json:"found_gone"`
}

func (c Counted) group(g *desk.Group) groupJSON {
	name := c.NameOf(c.ctx, g.Rule, g.Slot)
	j := groupJSON{
		ID: name.ID, Name: name.Name, Rule: g.Rule, Lines: g.Count.Lines, Due: g.Due(), MetInTime: g.MetInTime, MetLate: g.MetLate,
		Missed: g.Missed, Open: g.Open, Accepted: g.Accepted, NotSeen: g.NotSeen, Lower: g.Lower, Upper: g.Upper,
		ClusterLower: g.ByLine.Lower, ClusterUpper: g.ByLine.Upper, Overdue: g.Overdue.Hours(), Unaccounted: g.Unaccounted.Hours(),
		Unfinished: g.Unfinished, MetBy: map[string]int{},
	}
	if p, ok := g.Proportion(); ok {
		j.Proportion = &p
	}
	if median, ok := g.LateAt(0.5); ok {
		p90, _ := g.LateAt(0.9)
		j.LateMedian, j.LateP90 = &median, &p90
	}
	for by, n := range g.MetBy {
		if n > 0 {
			j.MetBy[audit.MetBy(by).String()] = n
		}
	}
	return j
}

// JSON writes the answer as one JSON document.
func (c Counted) JSON(w io.Writer) error {
	groups := []groupJSON{}
	for i := range c.Groups {
		groups = append(groups, c.group(&c.Groups[i]))
	}
	unrecorded := []unrecordedJSON{}
	for _, u := range c.Unrecorded {
		name := c.NameOf(c.ctx, "", u.Slot)
		unrecorded = append(unrecorded, unrecordedJSON{name.ID, name.Name, u.Found, u.Gone})
	}
	answer := struct {
		From       string           `json:"from"`
		To         string           `json:"to"`
		At         string           `json:"at"`
		KnownAt    string           `json:"known_at"`
		KnownSeq   int64            `json:"known_seq"`
		Policy     string           `json:"policy"`
		Trial      bool             `json:"trial"`
		Groups     []groupJSON      `json:"groups"`
		Unrecorded []unrecordedJSON `json:"found_unrecorded"`
	}{
		stamp(c.Period.From, c.zone), stamp(c.Period.Until, c.zone), stamp(c.At, c.zone), c.Known.At.In(c.zone).Format(time.RFC3339),
		c.Known.Seq, c.Policy.Name(), c.Trial, groups, unrecorded,
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(answer)
}

// Table writes the answer for people.
func (c Counted) Table(w io.Writer) error {
	fmt.Fprintf(w, "Duties as recorded, due from %s to %s, judged at %s, known up to entry #%d, %s", stamp(c.Period.From, c.zone),
		stamp(c.Period.Until, c.zone), stamp(c.At, c.zone), c.Known.Seq, c.Policy.Name())
	if c.Trial {
		fmt.Fprint(w, " (a trial)")
	}
	fmt.Fprint(w, "\n\n")
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "GROUP\tRULE\tLINES\tDUE\tIN TIME\tLATE\tMISSED\tOPEN\tACCEPTED\tNOT SEEN\tSHARE\tINTERVAL BY LINE\tHOURS OVERDUE\tUNACCOUNTED")
	for i := range c.Groups {
		g := &c.Groups[i]
		share := "none ended"
		if p, ok := g.Proportion(); ok {
			share = fmt.Sprintf("%.1f %%", 100*p)
		}
		fmt.Fprintf(t, "%s\t%s\t%d\t%d\t%d\t%d\t%d\t%d\t%d\t%d\t%s\t%.1f to %.1f %%\t%.1f\t%.1f\n", c.NameOf(c.ctx, g.Rule, g.Slot).Name, g.Rule,
			g.Count.Lines, g.Due(), g.MetInTime, g.MetLate, g.Missed, g.Open, g.Accepted, g.NotSeen, share,
			100*g.ByLine.Lower, 100*g.ByLine.Upper, g.Overdue.Hours(), g.Unaccounted.Hours())
	}
	if err := t.Flush(); err != nil {
		return err
	}
	for _, u := range c.Unrecorded {
		fmt.Fprintf(w, "\n%s: first seen unrecorded %d, found gone %d", c.NameOf(c.ctx, "", u.Slot).Name, u.Found, u.Gone)
	}
	_, err := fmt.Fprint(w, "\nThese are duties as recorded; follow your local policy. A removal always meets its last shift, which flatters short dwells.\n")
	return err
}
