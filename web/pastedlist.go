package web

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// pastedLine is one line of a pasted list that is not blank.
type pastedLine struct {
	no     int // counts from 1, blank lines too
	fields []string
}

func (l pastedLine) field(i int) string {
	if i < len(l.fields) {
		return l.fields[i]
	}
	return ""
}

// pastedLines reads a list typed with semicolons, or copied from a spreadsheet,
// which puts tabs.
func pastedLines(text string) []pastedLine {
	var lines []pastedLine
	no := 0
	for row := range strings.Lines(text) {
		no++
		if row = strings.TrimRight(row, "\r\n"); strings.TrimSpace(row) == "" {
			continue
		}
		between := ";"
		if strings.Contains(row, "\t") {
			between = "\t"
		}
		l := pastedLine{no: no}
		for field := range strings.SplitSeq(row, between) {
			l.fields = append(l.fields, strings.TrimSpace(field))
		}
		lines = append(lines, l)
	}
	return lines
}

// wardOfLine reads name, beds and the times at which shifts start.
func wardOfLine(l pastedLine, zone string) (line.Ward, error) {
	w := line.Ward{Ward: desk.NewID(), Name: l.field(0), Zone: zone}
	var err error
	if w.Beds, err = bedsOf(l.field(1)); err != nil {
		return w, err
	}
	if w.Shifts, err = shiftsOf(l.field(2)); err != nil {
		return w, err
	}
	if len(l.fields) > 3 {
		return w, fault.Field("name", "begin.too-many", "most", 3)
	}
	return w, nil
}

// mostBeds is the most beds a ward is believed to have; a house rule.
const mostBeds = 200

// bedsOf reads names of beds with commas between, of which "3-14" is twelve.
func bedsOf(text string) ([]string, error) {
	var beds []string
	for word := range strings.SplitSeq(text, ",") {
		if word = strings.TrimSpace(word); word == "" {
			continue
		}
		from, to, ok := numbered(word)
		if !ok {
			beds = append(beds, word)
			continue
		}
		if to-from >= mostBeds {
			return nil, fault.Field("beds", "begin.many-beds", "most", mostBeds)
		}
		for n := from; n <= to; n++ {
			beds = append(beds, strconv.Itoa(n))
		}
	}
	if len(beds) > mostBeds {
		return nil, fault.Field("beds", "begin.many-beds", "most", mostBeds)
	}
	return beds, nil
}

// numbered reads "3-14"; a leading nought belongs to a name.
func numbered(word string) (from, to int, ok bool) {
	first, last, ok := strings.Cut(strings.ReplaceAll(word, "–", "-"), "-")
	if !ok {
		return 0, 0, false
	}
	number := func(s string) (int, bool) {
		s = strings.TrimSpace(s)
		n, err := strconv.ParseUint(s, 10, 16)
		return int(n), err == nil && n > 0 && s[0] != '0'
	}
	from, firstOK := number(first)
	to, lastOK := number(last)
	return from, to, firstOK && lastOK && from <= to
}

// shiftsOf reads the times at which shifts start.
func shiftsOf(text string) ([]line.ShiftTime, error) {
	var shifts []line.ShiftTime
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ' ' }) {
		at, err := time.Parse("15:04", word)
		if err != nil {
			return nil, fault.Field("shifts", "desk.shifts-form")
		}
		shifts = append(shifts, line.ShiftTime(at.Hour()*60+at.Minute()))
	}
	return shifts, nil
}

// personOfLine reads name, role, sign-in name and initials.
func personOfLine(ctx context.Context, l pastedLine) (desk.NewAccount, error) {
	n := desk.NewAccount{Name: l.field(0), Role: roleOf(ctx, l.field(1)), SignIn: l.field(2), Initials: l.field(3)}
	switch {
	case len(l.fields) > 4:
		return n, fault.Field("name", "begin.too-many", "most", 4)
	case !n.Role.Valid():
		return n, fault.Field("role", "begin.role-unknown", "word", l.field(1))
	}
	return n, nil
}

// roleOf reads a role by the program's own word or the reader's.
func roleOf(ctx context.Context, word string) account.Role {
	i := slices.IndexFunc(account.Roles, func(role account.Role) bool {
		return strings.EqualFold(word, string(role)) || strings.EqualFold(word, words.Say(ctx, role.Word()))
	})
	if i < 0 {
		return ""
	}
	return account.Roles[i]
}
