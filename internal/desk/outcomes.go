package desk

import (
	"context"
	"fmt"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
)

// Outcomes is the lines of a period, as they now stand, ready to be asked what
// became of them in several ways. It names wards and roles, nobody.
type Outcomes struct {
	House  *House
	Period line.Stretch
	Seq    int64 // the last entry known
	lines  []line.Course
	names  outcomes.Names
}

// Outcomes reads the lines that were in at some minute of a period, or came out
// in it. roles says that it will be asked by the role of who placed a line.
func (d *Desk) Outcomes(ctx context.Context, who Person, period line.Stretch, roles bool) (*Outcomes, error) {
	if err := who.require(account.SeeAudit); err != nil {
		return nil, err
	}
	if period.From >= period.Until {
		return nil, fault.Field("to", "desk.period-empty")
	}
	period = period.Past(d.Now())
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	o := &Outcomes{House: h, Period: period, names: outcomes.Names{Ward: h.wardName}}
	if o.Seq, err = d.store.LastSeq(ctx); err != nil {
		return nil, fmt.Errorf("read the last place: %w", err)
	}
	if err := d.store.Courses(ctx, period, func(c line.Course) { o.lines = append(o.lines, c) }); err != nil {
		return nil, fmt.Errorf("read what became of lines: %w", err)
	}
	if roles {
		o.names.Role, err = d.roles(ctx, h, o.lines, period)
	}
	return o, err
}

// wardName is a ward as a group; of no ward, none.
func (h *House) wardName(key line.Key) outcomes.Name {
	if key == 0 {
		return outcomes.Name{}
	}
	w := h.WardByKey(key)
	return outcomes.Name{ID: string(w.Ward.Ward), Label: w.Name}
}

// roles finds the role of who placed each line, as the accounts stand now.
func (d *Desk) roles(ctx context.Context, h *House, lines []line.Course, period line.Stretch) (func(line.Course) outcomes.Name, error) {
	first := period.From
	for _, c := range lines {
		first = min(first, c.Placed)
	}
	by, err := d.store.Inserters(ctx, line.Stretch{From: first, Until: period.Until})
	if err != nil {
		return nil, fmt.Errorf("read who placed lines: %w", err)
	}
	return func(c line.Course) outcomes.Name {
		role := h.People[by[c.Line]].Role
		if role == "" {
			return outcomes.Name{}
		}
		return outcomes.Name{ID: string(role), Label: role}
	}, nil
}

// Ended is a line that came out in the period.
type Ended struct {
	line.Current
	Placed string // the ward that placed it, by name
}

// Ended gives the lines that came out in the period for one of the reasons, the
// latest first, at most so many; of is how many there are.
func (d *Desk) Ended(ctx context.Context, o *Outcomes, reasons []line.Reason, most int) (list []Ended, of int, err error) {
	out := outcomes.Ended(o.lines, o.Period, reasons)
	of, out = len(out), out[:min(most, len(out))]
	lines, err := linesOf(ctx, d, out, func(c line.Course) line.Key { return c.Line })
	for _, c := range out {
		if l, ok := lines[c.Line]; ok {
			list = append(list, Ended{l, o.House.WardByKey(c.Ward).Name})
		}
	}
	return list, of, err
}

// Courses says what became of the lines, in groups.
func (o *Outcomes) Courses(by outcomes.By, members outcomes.Members) (*outcomes.Courses, error) {
	return outcomes.Follow(o.lines, outcomes.Asked{Period: o.Period, By: by, Members: members}, o.names)
}

// Adjusted compares groups like for like; see outcomes.Adjust.
func (o *Outcomes) Adjusted(by ...outcomes.By) (*outcomes.Adjusted, error) {
	return outcomes.Adjust(o.lines, outcomes.Asked{Period: o.Period}, by, o.names)
}

// Watch charts an event over the period, by week or by month.
func (o *Outcomes) Watch(event outcomes.Event) *outcomes.Watched {
	return outcomes.Watch(o.lines, event, o.Period, o.House.Zone)
}
