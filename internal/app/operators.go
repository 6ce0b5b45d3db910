package app

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"text/tabwriter"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/interop"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
	"dwellbook/internal/words"
)

// OperatorsQuery is what the operators command is asked, as typed.
type OperatorsQuery struct {
	DB, Episodes, Map string // a record, a table of episodes with its map, or a table by a record's settings
	From, To, Zone    string
	// In place of the hospital's settings; nil: those.
	Acceptable, Unacceptable, LearningLimit, WatchLimit *float64
	Reset                                               bool
}

// Operators is the answer of the operators command.
type Operators struct {
	standard  outcomes.Standard
	operators []desk.Operator
	leftOut   operatorsLeftOut
	ctx       context.Context
}

// operatorsLeftOut counts the rows of a table that are nobody's trial.
type operatorsLeftOut struct {
	NoOperator    int `json:"no_operator"`
	FirstNotKnown int `json:"first_attempt_not_known"`
}

// OperatorsOf says how each operator of a record or of a table does at first
// attempts, and where the sums signalled.
func OperatorsOf(ctx context.Context, q OperatorsQuery, clock func() time.Time) (answer Operators, err error) {
	if q.DB == "" {
		t, err := typedFor(nil, cmp.Or(q.Zone, "UTC"))
		if err != nil {
			return answer, err
		}
		return q.ofTable(ctx, t, audit.DefaultPolicy().Learning(), clock)
	}
	err = reading(ctx, q.DB, q.Zone, clock, func(d *desk.Desk, t typed) error {
		settings, err := d.Learning(ctx)
		if err != nil {
			return err
		}
		if q.Episodes != "" {
			answer, err = q.ofTable(ctx, t, settings, clock)
			return err
		}
		period, err := q.period(t)
		if err != nil {
			return err
		}
		if answer.standard, err = q.standard(settings); err != nil {
			return err
		}
		answer.ctx = Speaking(ctx, t.hospital(), t.zone, d.Now())
		answer.operators, err = d.Operators(ctx, desk.System(), period)
		return err
	})
	return answer, err
}

func (q OperatorsQuery) period(t typed) (line.Stretch, error) {
	period := line.Stretch{From: -line.Far, Until: line.Far}
	for _, end := range []struct {
		flag, text string
		at         *line.Minute
	}{{"-from", q.From, &period.From}, {"-to", q.To, &period.Until}} {
		if end.text == "" {
			continue
		}
		var err error
		if *end.at, err = t.moment(end.flag, end.text); err != nil {
			return period, err
		}
	}
	if period.From >= period.Until {
		return period, &Misuse{Text: "-to must come after -from"}
	}
	return period, nil
}

// standard is the hospital's settings with what was asked in their place.
func (q OperatorsQuery) standard(settings audit.Learning) (outcomes.Standard, error) {
	terms := desk.TermsOf(settings)
	terms.Restarts = q.Reset
	for _, asked := range []struct{ value, of *float64 }{
		{q.Acceptable, &terms.Acceptable}, {q.Unacceptable, &terms.Unacceptable},
		{q.LearningLimit, &terms.LearningLimit}, {q.WatchLimit, &terms.WatchLimit},
	} {
		if asked.value != nil {
			*asked.of = *asked.value
		}
	}
	s, err := outcomes.NewStandard(terms)
	switch {
	case errors.Is(err, stats.ErrFailureRates):
		return s, &Misuse{Text: fmt.Sprintf("-acceptable %v and -unacceptable %v: rates of failing above 0 and below 1, the first the lower", terms.Acceptable, terms.Unacceptable)}
	case errors.Is(err, stats.ErrNoLimit):
		return s, &Misuse{Text: "-learning-limit and -watch-limit are numbers above 0; 0 has them worked out"}
	}
	return s, err
}

func (q OperatorsQuery) ofTable(ctx context.Context, t typed, settings audit.Learning, clock func() time.Time) (answer Operators, err error) {
	period, err := q.period(t)
	if err != nil {
		return answer, err
	}
	if answer.standard, err = q.standard(settings); err != nil {
		return answer, err
	}
	table, err := readEpisodes(ctx, q.Episodes, q.Map, t.zone, clock)
	if err != nil {
		return answer, err
	}
	answer.ctx = Speaking(ctx, t.hospital(), t.zone, line.MinuteOf(clock()))
	answer.operators, answer.leftOut = operatorsIn(table, period)
	return answer, nil
}

// operatorsIn are the operators of a table by name. Each row is one occasion, of
// which the table tells the first attempt.
func operatorsIn(table *interop.Episodes, period line.Stretch) (list []desk.Operator, left operatorsLeftOut) {
	attempts := make([][]line.Tried, len(table.Operators))
	for i, c := range table.Courses {
		switch by := table.Operator[i]; {
		case c.Placed < period.From || c.Placed >= period.Until:
		case by < 0:
			left.NoOperator++
		case table.FirstTime[i] == 0:
			left.FirstNotKnown++
		default:
			attempts[by] = append(attempts[by], line.Tried{
				Occasion: c.Line, LineID: line.ID(table.IDs[i]), At: c.Placed, Precision: c.Precision, No: 1, Of: max(1, int(table.Attempts[i])),
				Site: c.Site, Side: c.Side, Gauge: c.Gauge, Ward: c.Ward, Failed: table.FirstTime[i] == line.No,
			})
		}
	}
	for by, tried := range attempts {
		if len(tried) > 0 {
			list = append(list, desk.Operator{ID: table.Operators[by], Name: table.Operators[by], Record: outcomes.Of(tried, 0)})
		}
	}
	slices.SortFunc(list, func(a, b desk.Operator) int { return cmp.Compare(a.ID, b.ID) })
	return list, left
}

// signals are where both sums, each begun at the first trial, signalled.
func (o Operators) signals(of desk.Operator) (learning, watch []int) {
	failures := outcomes.Failures(of.Record.Trials(outcomes.PerOccasion))
	return o.standard.Learning(failures).Signals, o.standard.Watch(failures).Signals
}

type operatorJSON struct {
	Operator   string `json:"operator"`
	Name       string `json:"name"`
	Occasions  int    `json:"occasions"`
	Successes  int    `json:"first_attempt_successes"`
	Proportion number `json:"proportion"`
	Lower      number `json:"lower"`
	Upper      number `json:"upper"`
	LearningAt *int   `json:"learning_signal_at"`
	WatchAt    *int   `json:"watch_signal_at"`
	Learning   []int  `json:"learning_signals"`
	Watch      []int  `json:"watch_signals"`
}

// JSON writes the answer as one JSON document, in full precision.
func (o Operators) JSON(w io.Writer) error {
	answer := struct {
		Acceptable    number           `json:"acceptable"`
		Unacceptable  number           `json:"unacceptable"`
		LearningLimit number           `json:"learning_limit"`
		WatchLimit    number           `json:"watch_limit"`
		FalseAlarmIn  number           `json:"false_alarm_once_in"`
		LeftOut       operatorsLeftOut `json:"left_out"`
		Operators     []operatorJSON   `json:"operators"`
	}{
		number(o.standard.Acceptable), number(o.standard.Unacceptable), number(o.standard.LearningLimit), number(o.standard.WatchLimit),
		number(o.standard.Behaviour().FalseAlarmIn), o.leftOut, []operatorJSON{},
	}
	for _, of := range o.operators {
		first := of.Record.First
		j := operatorJSON{
			Operator: of.ID, Name: of.Name, Occasions: first.N, Successes: first.Successes, Proportion: number(math.NaN()),
			Lower: number(first.Lower), Upper: number(first.Upper), Learning: []int{}, Watch: []int{},
		}
		if p, ok := first.Proportion(); ok {
			j.Proportion = number(p)
		}
		learning, watch := o.signals(of)
		if len(learning) > 0 {
			j.LearningAt, j.Learning = &learning[0], learning
		}
		if len(watch) > 0 {
			j.WatchAt, j.Watch = &watch[0], watch
		}
		answer.Operators = append(answer.Operators, j)
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(answer)
}

// Table writes the answer for people.
func (o Operators) Table(w io.Writer) error {
	s := o.standard
	fmt.Fprintf(w, "First attempts by operator, as recorded. Acceptable rate of failing %g, unacceptable %g; limits %.3f (learning) and %.3f (watch).\n",
		s.Acceptable, s.Unacceptable, s.LearningLimit, s.WatchLimit)
	fmt.Fprintln(w, words.Tell(o.ctx, s.FalseAlarms(outcomes.PerOccasion)))
	fmt.Fprintln(w)
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "OPERATOR\tOCCASIONS\tFIRST ATTEMPT SUCCEEDED\tLEARNING SIGNAL AT\tWATCH SIGNAL AT")
	for _, of := range o.operators {
		learning, watch := o.signals(of)
		first := of.Record.First
		p, ok := first.Proportion()
		succeeded := "none known"
		if ok {
			succeeded = fmt.Sprintf("%d, %.0f %% (%.0f to %.0f)", first.Successes, 100*p, 100*first.Lower, 100*first.Upper)
		}
		at := []string{firstSignal(learning), firstSignal(watch)}
		if first.Few() {
			at = []string{"too few to say", "too few to say"}
		}
		fmt.Fprintf(t, "%s\t%d\t%s\t%s\t%s\n", of.Name, first.N, succeeded, at[0], at[1])
	}
	if err := t.Flush(); err != nil {
		return err
	}
	if o.leftOut == (operatorsLeftOut{}) {
		return nil
	}
	_, err := fmt.Fprintf(w, "\nLeft out: no operator named %d, first attempt not known %d.\n", o.leftOut.NoOperator, o.leftOut.FirstNotKnown)
	return err
}

func firstSignal(signals []int) string {
	if len(signals) == 0 {
		return "none"
	}
	return strconv.Itoa(signals[0])
}
