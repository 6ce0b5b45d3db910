package app

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
	"dwellbook/internal/words"
)

// OutcomesQuery is what the outcomes command is asked, as typed.
type OutcomesQuery struct {
	DB, Episodes, Map              string // a record, or a table of episodes with its map
	From, To, Zone                 string
	By, AtHours, Cohort, Transform string
}

// Became is the answer of the outcomes command.
type Became struct {
	*outcomes.Courses
	hours     []float64
	transform stats.Transform
	seq       int64 // 0: of a table
	zone      *time.Location
	ctx       context.Context
}

// asked is the question once read.
type asked struct {
	period    line.Stretch
	by        outcomes.By
	members   outcomes.Members
	hours     []float64
	transform stats.Transform
}

// Outcomes says what became of the lines of a record or of a table.
func Outcomes(ctx context.Context, q OutcomesQuery, clock func() time.Time) (answer Became, err error) {
	if q.Episodes != "" {
		return outcomesOfTable(ctx, q, clock)
	}
	err = reading(ctx, q.DB, q.Zone, clock, func(d *desk.Desk, t typed) error {
		a, err := q.read(t)
		if err != nil {
			return err
		}
		o, err := d.Outcomes(ctx, desk.System(), a.period, a.by == outcomes.ByOperatorRole)
		if err != nil {
			return err
		}
		c, err := o.Courses(a.by, a.members)
		answer = Became{c, a.hours, a.transform, o.Seq, t.zone, Speaking(ctx, t.hospital(), t.zone, d.Now())}
		return err
	})
	return answer, err
}

func (q OutcomesQuery) read(t typed) (a asked, err error) {
	if a.period.From, err = t.moment("-from", q.From); err != nil {
		return a, err
	}
	if a.period.Until, err = t.moment("-to", q.To); err != nil {
		return a, err
	}
	if a.period.From >= a.period.Until {
		return a, &Misuse{Text: "-to must come after -from"}
	}
	if a.by, err = outcomes.ParseBy(q.By); err != nil {
		return a, &Misuse{Text: "-by takes site, gauge, ward, side, operator-role or asepsis"}
	}
	if a.members, err = outcomes.ParseMembers(q.Cohort); err != nil {
		return a, &Misuse{Text: "-cohort takes placed or in-situ"}
	}
	if a.transform, err = stats.ParseTransform(q.Transform); err != nil {
		return a, &Misuse{Text: "-interval takes plain, log or loglog"}
	}
	a.hours, err = readHours(q.AtHours)
	return a, err
}

// readHours reads hours of dwell, parted by commas.
func readHours(text string) (list []float64, err error) {
	for part := range strings.SplitSeq(text, ",") {
		hours, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || !(hours >= 0 && hours <= 100*365*24) {
			return nil, &Misuse{Text: fmt.Sprintf("-at-hours: %q is no number of hours; an example: 24,48,72,96", part)}
		}
		list = append(list, hours)
	}
	return list, nil
}

// number is a figure for programs: null where there is none, or no end.
type number float64

// MarshalJSON writes null for what is not a finite number.
func (n number) MarshalJSON() ([]byte, error) {
	if v := float64(n); !math.IsNaN(v) && !math.IsInf(v, 0) {
		return json.Marshal(v)
	}
	return []byte("null"), nil
}

type (
	// estimateJSON is an estimate with its interval.
	estimateJSON struct {
		Estimate number `json:"estimate"`
		Lower    number `json:"lower"`
		Upper    number `json:"upper"`
	}
	survivalJSON struct {
		Hours  number `json:"hours"`
		AtRisk int    `json:"at_risk"`
		estimateJSON
	}
	endedJSON struct {
		Reason string `json:"reason"`
		Hours  number `json:"hours"`
		estimateJSON
	}
	rateJSON struct {
		Reason string `json:"reason"`
		Events int    `json:"events"`
		Rate   number `json:"per_1000_cannula_days"`
		Lower  number `json:"lower"`
		Upper  number `json:"upper"`
	}
	becameJSON struct {
		Group    string         `json:"group"`
		Name     string         `json:"name"`
		Lines    int            `json:"lines"`
		Failures int            `json:"failures"`
		Days     number         `json:"cannula_days"`
		Survival []survivalJSON `json:"survival"`
		Median   estimateJSON   `json:"median_hours"`
		EndedBy  []endedJSON    `json:"ended_by"`
		Rates    []rateJSON     `json:"rates"`
		Failing  rateJSON       `json:"failure_rate"`
	}
	logRankJSON struct {
		ChiSquared number `json:"chi_squared"`
		DF         int    `json:"df"`
		P          number `json:"p"`
	}
	leftOutJSON struct {
		FoundGone     int `json:"found_gone_censored_at_last_look"`
		StartNotKnown int `json:"start_not_known_counted_from_first_seen"`
		DateOnly      int `json:"date_only_counted_from_day_start"`
	}
)

func estimate(v float64, i stats.Interval) estimateJSON {
	return estimateJSON{number(v), number(i.Lower), number(i.Upper)}
}

func (b Became) rate(name string, r stats.Rate) rateJSON {
	i := r.Interval(outcomes.Confidence)
	return rateJSON{name, r.Events, number(r.Estimate()), number(i.Lower), number(i.Upper)}
}

func (b Became) group(g *outcomes.Group) becameJSON {
	j := becameJSON{
		Group: g.ID, Name: b.name(g), Lines: g.Lines, Failures: g.Failed, Days: number(outcomes.DaysOf(g.Dwell)),
		Survival: []survivalJSON{}, EndedBy: []endedJSON{}, Rates: []rateJSON{}, Failing: b.rate("failure", g.Rate(outcomes.FailureReasons()...)),
	}
	for _, hours := range b.hours {
		p := g.Survival.At(hours)
		j.Survival = append(j.Survival, survivalJSON{number(hours), p.AtRisk, estimate(p.Estimate, p.Interval(b.transform, outcomes.Confidence))})
	}
	median, i := g.Survival.Median(b.transform, outcomes.Confidence)
	j.Median = estimate(median, i)
	for _, reason := range outcomes.Ends {
		for _, hours := range b.hours {
			s := g.Incidence.At(stats.Ending(reason), hours)
			j.EndedBy = append(j.EndedBy, endedJSON{reason.String(), number(hours), estimate(s.Estimate, s.Interval(b.transform, outcomes.Confidence))})
		}
		j.Rates = append(j.Rates, b.rate(reason.String(), g.Rate(reason)))
	}
	return j
}

// name is the group's for people.
func (b Became) name(g *outcomes.Group) string {
	return words.Say(b.ctx, "outcomes.group-name", "label", g.Label)
}

// JSON writes the answer as one JSON document, in full precision.
func (b Became) JSON(w io.Writer) error {
	answer := struct {
		From     string       `json:"from"`
		To       string       `json:"to"`
		By       string       `json:"by,omitempty"`
		Cohort   string       `json:"cohort"`
		KnownSeq int64        `json:"known_seq,omitempty"`
		LeftOut  leftOutJSON  `json:"left_out"`
		Groups   []becameJSON `json:"groups"`
		LogRank  *logRankJSON `json:"log_rank"`
	}{
		stamp(b.Period.From, b.zone), stamp(b.Period.Until, b.zone), b.By.String(), b.Members.String(), b.seq,
		leftOutJSON{b.LeftOut.FoundGone, b.LeftOut.StartNotKnown, b.LeftOut.DateOnly}, []becameJSON{}, nil,
	}
	for i := range b.Groups {
		answer.Groups = append(answer.Groups, b.group(&b.Groups[i]))
	}
	if t := b.LogRank; t != nil {
		answer.LogRank = &logRankJSON{number(t.ChiSquared), t.DF, number(t.P)}
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(answer)
}

// Table writes the answer for people.
func (b Became) Table(w io.Writer) error {
	fmt.Fprintf(w, "What became of lines from %s to %s, as recorded\n\n", stamp(b.Period.From, b.zone), stamp(b.Period.Until, b.zone))
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	fmt.Fprint(t, "GROUP\tLINES\tFAILED\tCANNULA-DAYS\tHALF FAIL WITHIN\tFAILURES PER 1000 CANNULA-DAYS")
	for _, h := range b.hours {
		fmt.Fprintf(t, "\tNOT FAILED AT %g H", h)
	}
	fmt.Fprintln(t)
	for i := range b.Groups {
		g := &b.Groups[i]
		rate := g.Rate(outcomes.FailureReasons()...)
		fmt.Fprintf(t, "%s\t%d\t%d\t%.1f\t%s\t%s", b.name(g), g.Lines, g.Failed, outcomes.DaysOf(g.Dwell), b.half(g),
			figure(rate.Estimate(), rate.Interval(outcomes.Confidence), 1, ""))
		for _, h := range b.hours {
			p := g.Survival.At(h)
			fmt.Fprintf(t, "\t%s of %d", figure(p.Estimate, p.Interval(b.transform, outcomes.Confidence), 100, " %"), p.AtRisk)
		}
		fmt.Fprintln(t)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprintln(w)
	for _, m := range b.Reading() {
		fmt.Fprintln(w, words.Tell(b.ctx, m))
	}
	_, err := fmt.Fprintf(w, "\nIn this: found gone %d (followed to the last look), start not known %d (from when first seen), date only %d (from the day's start).\n",
		b.LeftOut.FoundGone, b.LeftOut.StartNotKnown, b.LeftOut.DateOnly)
	return err
}

// half is when half of the lines failed, in words.
func (b Became) half(g *outcomes.Group) string {
	median, i := g.Survival.Median(b.transform, outcomes.Confidence)
	if math.IsInf(median, 1) {
		return "not reached"
	}
	return figure(median, i, 1, " h")
}

// figure is an estimate with its interval, as far as there are such.
func figure(v float64, i stats.Interval, times float64, unit string) string {
	switch {
	case math.IsNaN(v):
		return "not known"
	case math.IsNaN(i.Lower) || math.IsNaN(i.Upper):
		return fmt.Sprintf("%.1f%s", times*v, unit)
	case math.IsInf(i.Upper, 1):
		return fmt.Sprintf("%.1f%s (at least %.1f)", times*v, unit, times*i.Lower)
	}
	return fmt.Sprintf("%.1f%s (%.1f to %.1f)", times*v, unit, times*i.Lower, times*i.Upper)
}
