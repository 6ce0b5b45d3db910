package store

import (
	"cmp"
	"slices"
	"time"

	"dwellbook/internal/line"
)

// derived is what follows from a patient's marks of all versions: where the
// patient is, how each line stands, and the days at which it is looked for.
type derived struct {
	ward, lastWard line.Key
	admitted       line.Minute
	lastMove       int64   // root of the last admission or transfer
	admissions     []int64 // roots, the latest first
	open           int
	lines          map[line.Key]lineRow
	spans          map[spanRow]struct{}
	wards          map[int64]line.Key // where each occasion was, by root
}

// lineRow is a row of line.
type lineRow struct {
	outcome   line.Outcome
	site      line.Site
	side      line.Side
	gauge     line.Gauge
	placed    line.Minute
	precision line.Precision
	ward      line.Key
	out       line.Minute
	reason    line.Reason
	first     line.Minute
	placedIn  line.Key // the ward
	asepsis   line.Asepsis
	infection line.Infection
}

// spanRow is a row of span, of a known patient.
type spanRow struct {
	day        int64
	ward, line line.Key
}

const (
	dayMinutes = 24 * 60
	// A line matters to the audit for two days after it came out (the watch of
	// its site), an occasion for one (its attempts); a day more covers zones.
	daysAfterLine     = 3
	daysAfterOccasion = 2
	// A line claimed for longer than this has no row for each day: it is
	// always looked at.
	mostDays = 400
	always   = -1
)

// derive works out what follows from the marks, whose standing ones make the
// history, for the lines in only; nil: for all. recorded gives the minute at which an entry was recorded.
func derive(history *line.Subject, marks []line.Mark, only map[line.Key]bool, recorded func(int64) line.Minute) derived {
	d := derived{lines: map[line.Key]lineRow{}, spans: map[spanRow]struct{}{}, wards: map[int64]line.Key{}}
	d.stays(history, marks)
	claims := claimsOf(marks)
	wanted := func(key line.Key) bool { return only == nil || only[key] }
	for _, m := range history.Occasions {
		if !wanted(m.Line) {
			continue
		}
		d.wards[m.Seq] = history.WardAt(m.At)
		if _, taken := d.lines[m.Line]; m.Outcome != line.WithLine && !taken {
			d.lines[m.Line] = lineRow{
				outcome: m.Outcome, site: m.Site, side: m.Side, gauge: m.Gauge, placed: m.At, precision: m.Precision,
				ward: history.LastWardAt(m.At), out: m.At, first: claims[m.Line].first, placedIn: history.LastWardAt(m.At), asepsis: m.Asepsis,
			}
		}
	}
	for _, l := range history.Lines {
		if l.Out == line.Far {
			d.open++
		}
		if wanted(l.Key) {
			d.lines[l.Key] = lineOf(history, l, claims[l.Key].first)
		}
	}
	for key, c := range claims {
		if wanted(key) {
			d.span(key, c, history.LineOf(key), marks, recorded)
		}
	}
	return d
}

// stays works out where the patient is, and which entries say in which bed.
func (d *derived) stays(history *line.Subject, marks []line.Mark) {
	d.ward, d.lastWard = history.WardAt(line.Far-1), history.LastWardAt(line.Far-1)
	moves := movesOf(marks)
	for i := len(moves) - 1; i >= 0; i-- {
		if moves[i].Kind == line.KindAdmission {
			d.admissions = append(d.admissions, moves[i].Seq)
			d.admitted = max(d.admitted, moves[i].At)
		}
	}
	if len(moves) > 0 {
		d.lastMove = moves[len(moves)-1].Seq
	}
}

// lineOf is how a line stands, with the ward that has it or had it last.
func lineOf(history *line.Subject, l *line.Line, first line.Minute) lineRow {
	row := lineRow{
		outcome: line.WithLine, site: l.Placement.Site, side: l.Placement.Side, gauge: l.Placement.Gauge,
		placed: l.Placed, precision: l.Placement.Precision, out: l.Out, first: first,
		placedIn: history.LastWardAt(l.Placed), asepsis: l.Placement.Asepsis, infection: l.Infection,
	}
	if l.Removal != nil {
		row.reason = l.Removal.Reason
	}
	last := l.Out
	if last > l.Placed {
		last-- // the ward it came out in, not the one the patient went to in that minute
	}
	row.ward = history.LastWardAt(last)
	return row
}

// movesOf gives the admissions and transfers that stand, in order.
func movesOf(marks []line.Mark) []line.Mark {
	var moves []line.Mark
	for _, m := range marks {
		if m.Gone == 0 && (m.Kind == line.KindAdmission || m.Kind == line.KindTransfer) {
			moves = append(moves, m)
		}
	}
	slices.SortFunc(moves, inOrder)
	return moves
}

// inOrder is the order of a history: by moment, then by place.
func inOrder(a, b line.Mark) int {
	return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Seq, b.Seq), cmp.Compare(a.Part, b.Part))
}

// claim is all that any version ever said of when an occasion was.
type claim struct {
	first, last line.Minute // earliest and latest moment
	gone        int64       // the latest entry that ended a version; 0: none
}

// claimsOf gathers the claims of all versions, by line.
func claimsOf(marks []line.Mark) map[line.Key]claim {
	claims := map[line.Key]claim{}
	for _, m := range marks {
		if m.Kind != line.KindOccasion {
			continue
		}
		c, ok := claims[m.Line]
		if !ok {
			c.first, c.last = m.At, m.At
		}
		c.first, c.last = min(c.first, m.At), max(c.last, m.At)
		c.gone = max(c.gone, m.Gone)
		claims[m.Line] = c
	}
	return claims
}

// span adds the days at which the line is looked for: from the first claim of
// its placement until the removal, or the day that was recorded, whichever is
// later, since until then it was known as in. A line that is in needs none.
func (d *derived) span(key line.Key, c claim, l *line.Line, marks []line.Mark, recorded func(int64) line.Minute) {
	if l != nil && l.Out == line.Far {
		return
	}
	last := c.last.Add(daysAfterOccasion * dayMinutes * time.Minute)
	if l != nil {
		end := max(l.Out, l.Removal.At, recorded(l.Removal.Known))
		last = max(last, end.Add(daysAfterLine*dayMinutes*time.Minute))
	}
	if c.gone != 0 { // until then a line may have been known as in
		last = max(last, recorded(c.gone))
	}
	from, until := dayOf(c.first), dayOf(last)
	if until-from > mostDays {
		d.spans[spanRow{always, 0, key}] = struct{}{}
		return
	}
	wards := wardDays(marks, recorded)
	for day := from; day <= until; day++ {
		some := false
		for _, w := range wards {
			if w.from <= day && day <= w.until {
				d.spans[spanRow{day, w.ward, key}] = struct{}{}
				some = true
			}
		}
		if !some {
			d.spans[spanRow{day, 0, key}] = struct{}{}
		}
	}
}

type wardDay struct {
	ward        line.Key
	from, until int64
}

// wardDays gives the days at which each ward may have had the patient, as any
// version told: from each admission or transfer until the next that stands,
// or the day that was recorded. After a discharge the last ward answers.
func wardDays(marks []line.Mark, recorded func(int64) line.Minute) []wardDay {
	moves := movesOf(marks)
	var days []wardDay
	for _, m := range marks {
		if m.Kind != line.KindAdmission && m.Kind != line.KindTransfer {
			continue
		}
		until := line.Far
		for _, n := range moves {
			if inOrder(n, m) > 0 {
				until = max(n.At, recorded(n.Known))
				break
			}
		}
		days = append(days, wardDay{m.Ward, dayOf(m.At), dayOf(until)})
	}
	return days
}

// dayOf counts days from 1970-01-01, UTC.
func dayOf(m line.Minute) int64 {
	day := int64(m) / dayMinutes
	if m < 0 && int64(m)%dayMinutes != 0 {
		day--
	}
	return day
}
