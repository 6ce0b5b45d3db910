package desk

import (
	"cmp"
	"context"
	"slices"
	"sync"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/audit"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/proof"
)

// MonthReport is everything about duties in one calendar month of the
// hospital's zone, as recorded. It names wards, lines by site and gauge, and
// shifts; no patient and no member of staff.
type MonthReport struct {
	Start     time.Time // the month's first moment
	House     *House
	Policies  []audit.InForce // at some time in the month, as known, in order
	Rules     *Compliance
	Wards     *Compliance
	Shifts    *Compliance
	Calendars []*Calendar    // of looks, for each ward with any
	Findings  []FindingCount // by rule
	Worst     []WorstStretch // longest first
	LinesIn   int            // lines in at some time in the month
	Head      *proof.Signed  // of the record when asked; nil: never signed
}

// FindingCount is how often a rule's finding stood in the month.
type FindingCount struct {
	Rule     line.Rule
	IsDuty   bool
	Severity audit.Severity
	Stood    int // stretches, each joined
	Lines    int
	Hours    float64
}

// ParseMonth reads a month such as 2026-10, in a zone; empty: the one before now.
func ParseMonth(text string, now time.Time, zone *time.Location) (time.Time, error) {
	if text == "" {
		y, m, _ := now.In(zone).Date()
		return time.Date(y, m-1, 1, 0, 0, 0, 0, time.UTC), nil
	}
	month, err := time.Parse("2006-01", text)
	if err != nil || month.Year() < 2000 || month.Year() > 2200 {
		return time.Time{}, fault.Field("month", "desk.no-month", "text", text)
	}
	return month, nil
}

// MonthPeriod is the month's stretch in a zone, month being any day of it.
func MonthPeriod(month time.Time, zone *time.Location) line.Stretch {
	first := time.Date(month.Year(), month.Month(), 1, 0, 0, 0, 0, time.UTC)
	return line.Stretch{From: line.DayStart(first, zone), Until: line.DayStart(first.AddDate(0, 1, 0), zone)}
}

// Month answers for a month, in one read of the record.
func (d *Desk) Month(ctx context.Context, who Person, month time.Time, known Known) (*MonthReport, error) {
	if err := who.require(account.SeeAudit); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	q := PeriodQuestion{Period: MonthPeriod(month, h.Zone), Known: known}
	_, l, err := d.ask(ctx, &q)
	if err != nil {
		return nil, err
	}
	m := monthly{lens: l, q: q, lines: map[line.Rule]map[line.Key]bool{}, counts: map[line.Rule]*FindingCount{}, in: map[line.Key]bool{}}
	if err := d.spread(ctx, l, m.cellPeriod(), m.worker); err != nil {
		return nil, err
	}
	r := &MonthReport{Start: q.Period.From.Time().In(h.Zone), House: h, Policies: l.book.PoliciesIn(q.Period), LinesIn: len(m.in)}
	r.Rules, r.Wards, r.Shifts = m.compliance(h, audit.ByRule), m.compliance(h, audit.ByWard), m.compliance(h, audit.ByShift)
	r.Calendars = m.calendars(h, month)
	for rule, f := range m.counts {
		f.Lines = len(m.lines[rule])
		r.Findings = append(r.Findings, *f)
	}
	order := map[line.Rule]int{}
	for i, info := range audit.Rules() {
		order[info.Rule] = i
	}
	slices.SortFunc(r.Findings, func(a, b FindingCount) int { return cmp.Compare(order[a.Rule], order[b.Rule]) })
	if r.Worst, err = d.nameWorst(ctx, h, &m.worst); err != nil {
		return nil, err
	}
	r.Head, err = d.printedHead(ctx)
	return r, err
}

// groupings of a month's report.
var monthGroupings = []audit.By{audit.ByRule, audit.ByWard, audit.ByShift, audit.ByCell}

// monthly gathers a month from several workers.
type monthly struct {
	lens *lens
	q    PeriodQuestion

	mu      sync.Mutex
	tallies []map[audit.By]*audit.Tally
	worst   worst
	counts  map[line.Rule]*FindingCount
	lines   map[line.Rule]map[line.Key]bool
	in      map[line.Key]bool
}

// cellPeriod reaches into the day after: the look of the month's last night
// falls due then.
func (m *monthly) cellPeriod() line.Stretch {
	return line.Stretch{From: m.q.Period.From, Until: m.q.Period.Until.Add(24*time.Hour) + 1}
}

func (m *monthly) worker() func(line.Key, []line.Mark) {
	tallies := map[audit.By]*audit.Tally{}
	for _, by := range monthGroupings {
		counting := audit.Counting{Period: m.q.Period, By: by}
		if by == audit.ByCell {
			counting.Period = m.cellPeriod()
		}
		tallies[by] = audit.NewTally(m.lens.book, counting)
	}
	m.tallies = append(m.tallies, tallies)
	return func(_ line.Key, marks []line.Mark) {
		a := audit.Assess(m.lens.book, marks, m.q.At)
		for _, t := range tallies {
			t.Add(&a)
		}
		m.take(&a)
	}
}

func (m *monthly) take(a *audit.Assessment) {
	stood := a.Standing(m.q.Period)
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, l := range a.History.Lines {
		if l.Placed < m.q.Period.Until && l.Out > m.q.Period.From && l.Placed <= a.At {
			m.in[l.Key] = true
		}
	}
	for _, s := range stood {
		f := m.counts[s.Rule]
		if f == nil {
			f = &FindingCount{Rule: s.Rule, IsDuty: s.IsDuty, Severity: s.Severity}
			m.counts[s.Rule], m.lines[s.Rule] = f, map[line.Key]bool{}
		}
		f.Stood++
		f.Hours += s.Until.Sub(s.From).Hours()
		f.Severity = min(f.Severity, s.Severity)
		m.lines[s.Rule][s.Line] = true
	}
	m.worst.add(stood)
}

func (m *monthly) merged(by audit.By) *audit.Tally {
	for _, t := range m.tallies[1:] {
		m.tallies[0][by].Merge(t[by])
	}
	return m.tallies[0][by]
}

func (m *monthly) compliance(h *House, by audit.By) *Compliance {
	q := m.q
	q.By = by
	return newCompliance(h, m.lens, q, m.merged(by))
}

// calendars lays the looks out by ward; a ward without any has none.
func (m *monthly) calendars(h *House, month time.Time) []*Calendar {
	cells := map[line.Key][]audit.Count{}
	for _, c := range m.merged(audit.ByCell).Counts() {
		if c.Rule == audit.ReviewOverdue {
			cells[c.Ward] = append(cells[c.Ward], c)
		}
	}
	var all []*Calendar
	for _, w := range h.Wards {
		if len(cells[w.Key]) == 0 {
			continue
		}
		c := &Calendar{Ward: w, Month: time.Date(month.Year(), month.Month(), 1, 0, 0, 0, 0, time.UTC), Rule: audit.ReviewOverdue, At: m.q.At}
		c.layOut(m.lens.book)
		c.fill(cells[w.Key])
		all = append(all, c)
	}
	return all
}
