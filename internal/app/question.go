package app

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
)

// typed reads what a command was asked, as typed, in a zone.
type typed struct {
	house *desk.House
	zone  *time.Location
}

// typedFor finds the zone; empty: the hospital's.
func typedFor(h *desk.House, zone string) (typed, error) {
	if zone == "" {
		return typed{h, h.Zone}, nil
	}
	z, err := time.LoadLocation(zone)
	if err != nil {
		return typed{}, &Misuse{Text: fmt.Sprintf("-zone: %q is no time zone; an example: Europe/London", zone)}
	}
	return typed{h, z}, nil
}

// hospital is what the record says of the whole house; nothing without a record.
func (t typed) hospital() line.Hospital {
	if t.house == nil {
		return line.Hospital{}
	}
	return t.house.Hospital
}

// moment reads a moment; empty: 0.
func (t typed) moment(flag, text string) (line.Minute, error) {
	if text == "" {
		return 0, nil
	}
	at, err := ParseMoment(text, t.zone)
	if err != nil {
		return 0, &Misuse{Text: flag + ": " + err.Error()}
	}
	return line.MinuteOf(at), nil
}

// known reads a moment or "#" and a place in the record.
func (t typed) known(text string) (desk.Known, error) {
	seq, isSeq := strings.CutPrefix(text, "#")
	switch {
	case text == "":
		return desk.Known{}, nil
	case isSeq:
		n, err := strconv.ParseInt(seq, 10, 64)
		if err != nil || n < 1 {
			return desk.Known{}, &Misuse{Text: fmt.Sprintf("-known-at: %q is no sequence number; an example: #1200", text)}
		}
		return desk.Known{Seq: n}, nil
	}
	at, err := ParseMoment(text, t.zone)
	if err != nil {
		return desk.Known{}, &Misuse{Text: "-known-at: " + err.Error()}
	}
	return desk.Known{At: at}, nil
}

// ward finds a ward by name or id; empty: all.
func (t typed) ward(text string) (line.ID, error) {
	if text == "" {
		return "", nil
	}
	for _, w := range t.house.Wards {
		if w.Ward.Ward == line.ID(text) || strings.EqualFold(w.Name, text) {
			return w.Ward.Ward, nil
		}
	}
	return "", &Misuse{Text: fmt.Sprintf("-ward: there is no ward %q", text)}
}

// policy reads a policy to be tried; empty: none.
func (t typed) policy(file string) (*audit.Policy, error) {
	if file == "" {
		return nil, nil
	}
	p, err := readPolicy(file)
	if err != nil {
		return nil, &Misuse{Text: err.Error()}
	}
	return p, nil
}

// Misuse is a command called in a way that cannot be answered.
type Misuse struct{ Text string }

// Error is what was wrong and what is allowed.
func (m *Misuse) Error() string { return m.Text }

// ParseMoment reads RFC 3339 with an offset; a bare date is midnight in the zone.
func ParseMoment(s string, zone *time.Location) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, s); err == nil {
		return t, nil
	}
	day, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return time.Time{}, fmt.Errorf("%q is no moment; allowed: 2026-03-02T08:20:00Z, 2026-03-02T08:20:00+01:00, or a date, 2026-03-02", s)
	}
	return line.DayStart(day, zone).Time(), nil
}

// stamp writes a moment for programs.
func stamp(m line.Minute, zone *time.Location) string { return m.Time().In(zone).Format(time.RFC3339) }
