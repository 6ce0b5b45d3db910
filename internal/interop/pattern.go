package interop

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"

	"dwellbook/internal/line"
)

// pattern is a way of writing a date, with or without the time of day.
type pattern struct {
	shown  string // as in the mapping: "DD/MM/YYYY HH:mm"
	layout string // as package time wants it
	clock  bool
	second bool
	marks  string // what stands between its numbers and words
}

// tokens of a pattern, longest first, with what package time calls them. Its
// parser takes one digit or two where the layout has one.
var tokens = []struct{ shown, layout, part string }{
	{"YYYY", "2006", "year"}, {"YY", "06", "year"}, {"MMM", "Jan", "month"}, {"MM", "01", "month"}, {"M", "1", "month"},
	{"DD", "02", "day"}, {"D", "2", "day"}, {"HH", "15", "hour"}, {"H", "15", "hour"}, {"mm", "04", "minute"}, {"ss", "05", "second"},
}

const patternHelp = "YYYY or YY, MMM, MM or M, DD or D, and with a time of day HH or H, mm and perhaps ss, parted by spaces or by - / . : , or T"

// parsePattern reads a pattern; the error says what is wrong with it.
func parsePattern(shown string) (pattern, error) {
	p := pattern{shown: shown}
	seen := map[string]bool{}
	var layout strings.Builder
	for rest := shown; rest != ""; {
		i := 0
		for i < len(tokens) && !strings.HasPrefix(rest, tokens[i].shown) {
			i++
		}
		if i == len(tokens) {
			if !strings.Contains(" -/.:,T", rest[:1]) {
				return p, fmt.Errorf("%q means nothing in a date format", rest[:1])
			}
			layout.WriteString(rest[:1])
			rest = rest[1:]
			continue
		}
		if seen[tokens[i].part] {
			return p, fmt.Errorf("the %s stands twice", tokens[i].part)
		}
		seen[tokens[i].part] = true
		layout.WriteString(tokens[i].layout)
		rest = rest[len(tokens[i].shown):]
	}
	switch {
	case !seen["year"] || !seen["month"] || !seen["day"]:
		return p, errors.New("a date needs year, month and day")
	case seen["hour"] != seen["minute"] || seen["second"] && !seen["minute"]:
		return p, errors.New("a time of day needs hour and minute")
	}
	p.layout, p.clock, p.second = layout.String(), seen["hour"], seen["second"]
	p.marks = marks(strings.Join(strings.Fields(shown), " "))
	return p, nil
}

// marks is what stands between the numbers and words of a date.
func marks(text string) string {
	var buffer [16]byte
	found := buffer[:0]
	for i := range len(text) {
		if c := text[i]; (c < '0' || c > '9') && (c|0x20 < 'a' || c|0x20 > 'z') {
			found = append(found, c)
		}
	}
	return string(found)
}

// fits reports, quickly, whether a text with these marks may be of the
// pattern. Seconds may have a fraction, whose point is one more.
func (p pattern) fits(marks string) bool {
	return marks == p.marks || p.second && len(marks) > len(p.marks)
}

// standing patterns are read in every sheet.
var standing = func() []pattern {
	var all []pattern
	for _, shown := range []string{"YYYY-MM-DD HH:mm", "YYYY-MM-DD", "YYYY-MM-DDTHH:mm", "YYYY-MM-DD HH:mm:ss", "YYYY-MM-DDTHH:mm:ss"} {
		p, err := parsePattern(shown)
		if err != nil {
			panic(err)
		}
		all = append(all, p)
	}
	return all
}()

// moment is a time as a cell gives it. The zero value is a blank cell.
type moment struct {
	at        line.Minute
	until     line.Minute // it lies before this: one minute, or one day, after at
	precision line.Precision
}

func (m moment) given() bool { return m.precision != 0 }

// surelyBefore reports whether m lies before o whatever the hour of a date only.
func (m moment) surelyBefore(o moment) bool { return m.until <= o.at }

func exact(at line.Minute) moment { return moment{at, at + 1, line.ToMinute} }

// timeError says why a cell names no one moment: a key of the catalogue.
type timeError struct{ what, allowed string }

func (e *timeError) Error() string { return e.what }

var (
	errUnreadable = &timeError{"interop.time", "interop.allow.time"}
	errTwoWays    = &timeError{"interop.two-ways", "interop.allow.two-ways"}
	errTwice      = &timeError{"interop.twice", "interop.allow.twice"}
	errSkipped    = &timeError{"interop.skipped", "interop.allow.skipped"}
)

// suffix is what may follow a time of day: which of two, or an offset from UTC.
var suffix = regexp.MustCompile(`^(.*\S)(?: +(first|second)|(?:([0-9]) *)(Z|[+-][0-9]{2}:?[0-9]{2}))$`)

// readTime reads a cell that is not blank: RFC 3339, or a local time in the
// zone by one of the patterns. Two patterns that give two moments are an error.
func readTime(cell string, patterns []pattern, zone *time.Location) (moment, error) {
	if len(cell) > 10 && (cell[10] == 'T' || cell[10] == 't') {
		if t, err := time.Parse(time.RFC3339, strings.ToUpper(cell)); err == nil {
			return exact(line.MinuteOf(t)), nil
		}
	}
	body, which, offset := parted(cell)
	var read moment
	err := error(errUnreadable)
	between := marks(body)
	for _, p := range patterns {
		if !p.fits(between) {
			continue
		}
		wall, bad := time.Parse(p.layout, body)
		if bad != nil || !p.clock && (which != line.NotAsked || offset != nil) {
			continue
		}
		m, bad := p.on(wall, zone, which, offset)
		switch {
		case read.given() && bad == nil && m != read:
			return moment{}, errTwoWays
		case bad == nil:
			read, err = m, nil
		case !read.given():
			err = bad
		}
	}
	return read, err
}

// parted takes the suffix off; a date such as 02-03-2026 has none.
func parted(cell string) (body string, which line.Which, offset *time.Location) {
	if n := len(cell); n < 6 || !strings.Contains("tdZ", cell[n-1:]) && !strings.ContainsAny(cell[n-6:n-4], "+-") {
		return cell, line.NotAsked, nil
	}
	m := suffix.FindStringSubmatch(cell)
	switch {
	case m == nil || m[4] != "" && !strings.Contains(m[1], ":"):
		return cell, line.NotAsked, nil
	case m[2] == "first":
		return m[1], line.First, nil
	case m[2] == "second":
		return m[1], line.Second, nil
	case m[4] == "Z":
		return m[1] + m[3], line.NotAsked, time.UTC
	}
	t, err := time.Parse("-0700", strings.ReplaceAll(m[4], ":", ""))
	if err != nil {
		return cell, line.NotAsked, nil
	}
	_, seconds := t.Zone()
	return m[1] + m[3], line.NotAsked, time.FixedZone("", seconds)
}

func (p pattern) on(wall time.Time, zone *time.Location, which line.Which, offset *time.Location) (moment, error) {
	switch {
	case !p.clock:
		return moment{line.DayStart(wall, zone), line.DayStart(wall.AddDate(0, 0, 1), zone), line.ToDay}, nil
	case offset != nil:
		return exact(line.MinuteOf(time.Date(wall.Year(), wall.Month(), wall.Day(), wall.Hour(), wall.Minute(), 0, 0, offset))), nil
	}
	at, err := line.OnWall(wall, zone, which)
	var off *line.WallError
	switch {
	case errors.As(err, &off) && off.Twice:
		return moment{}, errTwice
	case err != nil:
		return moment{}, errSkipped
	}
	return exact(at), nil
}
