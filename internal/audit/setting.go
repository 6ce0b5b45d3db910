package audit

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"dwellbook/internal/line"
)

// setting is one key of a policy file: how it is read and how it is shown.
// read is given what the TOML reader made of the value; its error is a *valueError.
type setting struct {
	key  string
	read func(v *values, raw any) error
	show func(v *values) string // "" where it is not set

	form     Form
	allowed  string   // what it can hold
	choices  []string // ChoiceForm: these and no others
	optional bool     // need not be set
}

// valueError is a value that a key cannot take.
type valueError struct{ problem, allowed string }

func (e *valueError) Error() string { return e.problem + "; allowed: " + e.allowed }

const spanForm = `a length of time such as "30m", "8h", "7d" or "1d12h"`

// span is a length of time from least to most.
func span(key string, field func(*values) *time.Duration, least, most time.Duration) setting {
	allowed := fmt.Sprintf("%s to %s", showSpan(least), showSpan(most))
	return setting{
		key: key, form: SpanForm, allowed: allowed,
		read: func(v *values, raw any) error {
			d, err := readSpan(raw)
			if err != nil {
				return err
			}
			if d < least || d > most {
				return &valueError{fmt.Sprintf("%s is out of range", showSpan(d)), allowed}
			}
			*field(v) = d
			return nil
		},
		show: func(v *values) string { return showSpan(*field(v)) },
	}
}

// optionalSpan is a span that need not be set.
func optionalSpan(key string, field func(*values) *time.Duration, least, most time.Duration) setting {
	s := span(key, field, least, most)
	s.optional = true
	show := s.show
	s.show = func(v *values) string {
		if *field(v) == 0 {
			return ""
		}
		return show(v)
	}
	return s
}

func readSpan(raw any) (time.Duration, error) {
	text, ok := raw.(string)
	if !ok {
		return 0, &valueError{fmt.Sprintf("%v is no length of time", raw), spanForm}
	}
	wrong := &valueError{fmt.Sprintf("%q is no length of time", text), spanForm}
	var total time.Duration
	for rest := text; rest != "" || text == ""; {
		n := strings.IndexFunc(rest, func(r rune) bool { return r < '0' || r > '9' })
		if n <= 0 {
			return 0, wrong
		}
		count, err := strconv.ParseInt(rest[:n], 10, 32)
		unit, known := map[byte]time.Duration{'m': time.Minute, 'h': time.Hour, 'd': 24 * time.Hour}[rest[n]]
		if err != nil || !known || count > math.MaxInt32/1440 {
			return 0, wrong
		}
		total += time.Duration(count) * unit
		rest = rest[n+1:]
	}
	return total, nil
}

// showSpan writes a length of time as a policy file does.
func showSpan(d time.Duration) string {
	const day = 24 * time.Hour
	switch {
	case d >= 3*day && d%day == 0:
		return fmt.Sprintf("%dd", d/day)
	case d >= time.Hour && d%time.Hour == 0:
		return fmt.Sprintf("%dh", d/time.Hour)
	case d > time.Hour:
		return fmt.Sprintf("%dh%dm", d/time.Hour, d%time.Hour/time.Minute)
	}
	return fmt.Sprintf("%dm", d/time.Minute)
}

// number is a whole number from least to most.
func number(key string, field func(*values) *int, least, most int) setting {
	allowed := fmt.Sprintf("a whole number from %d to %d", least, most)
	return setting{
		key: key, form: NumberForm, allowed: allowed,
		read: func(v *values, raw any) error {
			n, ok := raw.(int64)
			if !ok {
				return &valueError{fmt.Sprintf("%v is no whole number", raw), allowed}
			}
			if n < int64(least) || n > int64(most) {
				return &valueError{fmt.Sprintf("%v is out of range", raw), allowed}
			}
			*field(v) = int(n)
			return nil
		},
		show: func(v *values) string { return strconv.Itoa(*field(v)) },
	}
}

// decimal is a number from least to most.
func decimal(key string, field func(*values) *float64, least, most float64) setting {
	allowed := fmt.Sprintf("a number from %v to %v", least, most)
	return setting{
		key: key, form: DecimalForm, allowed: allowed,
		read: func(v *values, raw any) error {
			x, ok := raw.(float64)
			if n, whole := raw.(int64); whole {
				x, ok = float64(n), true
			}
			if !ok {
				return &valueError{fmt.Sprintf("%v is no number", raw), allowed}
			}
			if !(x >= least && x <= most) {
				return &valueError{fmt.Sprintf("%v is out of range", raw), allowed}
			}
			*field(v) = x
			return nil
		},
		show: func(v *values) string { return strconv.FormatFloat(*field(v), 'f', -1, 64) },
	}
}

// optionalDecimal is a number that need not be set.
func optionalDecimal(key string, field func(*values) *float64, least, most float64) setting {
	s := decimal(key, field, least, most)
	s.optional = true
	show := s.show
	s.show = func(v *values) string {
		if *field(v) == 0 {
			return ""
		}
		return show(v)
	}
	return s
}

// gauge is a size of cannula, written as a number or as "20G".
func gauge(key string, field func(*values) *line.Gauge) setting {
	choices := make([]string, len(line.Gauges))
	for i, g := range line.Gauges {
		choices[i] = strconv.Itoa(int(g))
	}
	return setting{
		key: key, form: ChoiceForm, allowed: fmt.Sprint(line.Gauges), choices: choices,
		read: func(v *values, raw any) error {
			g, err := line.ParseGauge(fmt.Sprint(raw))
			if err != nil || g == 0 {
				return &valueError{fmt.Sprintf("%v is no gauge", raw), fmt.Sprint(line.Gauges)}
			}
			*field(v) = g
			return nil
		},
		show: func(v *values) string { return strconv.Itoa(int(*field(v))) },
	}
}

func flag(key string, field func(*values) *bool) setting {
	return setting{
		key: key, form: FlagForm, allowed: "true, false",
		read: func(v *values, raw any) error {
			on, ok := raw.(bool)
			if !ok {
				return &valueError{fmt.Sprintf("%v is neither true nor false", raw), "true, false"}
			}
			*field(v) = on
			return nil
		},
		show: func(v *values) string { return strconv.FormatBool(*field(v)) },
	}
}

func severity(key string, field func(*values) *Severity) setting {
	return setting{
		key: key, form: ChoiceForm, allowed: strings.Join(severityNames, ", "), choices: severityNames,
		read: func(v *values, raw any) error { return field(v).UnmarshalText([]byte(fmt.Sprint(raw))) },
		show: func(v *values) string { return field(v).String() },
	}
}

func sentence(key string, field func(*values) *string) setting {
	return setting{
		key: key, form: SentenceForm, allowed: "a sentence",
		read: func(v *values, raw any) error {
			text, ok := raw.(string)
			if !ok || strings.TrimSpace(text) == "" {
				return &valueError{"nothing is said", "a sentence in quotes"}
			}
			*field(v) = text
			return nil
		},
		show: func(v *values) string { return *field(v) },
	}
}

// shiftTimes are times of day, ascending.
func shiftTimes(key string, field func(*values) *[]line.ShiftTime) setting {
	const form = `one to twelve times of day, ascending, such as ["07:30", "19:30"]`
	return setting{
		key: key, form: TimesForm, allowed: form,
		read: func(v *values, raw any) error {
			list, ok := raw.([]any)
			if !ok || len(list) == 0 || len(list) > 12 {
				return &valueError{fmt.Sprintf("%v is no list of shift times", raw), form}
			}
			var times []line.ShiftTime
			for _, one := range list {
				t, err := time.Parse("15:04", fmt.Sprint(one))
				if err != nil {
					return &valueError{fmt.Sprintf("%q is no time of day", fmt.Sprint(one)), form}
				}
				times = append(times, line.ShiftTime(t.Hour()*60+t.Minute()))
				if n := len(times); n > 1 && times[n-2] >= times[n-1] {
					return &valueError{fmt.Sprintf("%q does not come after the time before it", fmt.Sprint(one)), form}
				}
			}
			*field(v) = times
			return nil
		},
		show: func(v *values) string {
			var shown []string
			for _, t := range *field(v) {
				shown = append(shown, fmt.Sprintf("%02d:%02d", t/60, t%60))
			}
			return strings.Join(shown, ", ")
		},
	}
}

// commonSettings are the keys that every rule has.
func commonSettings(no ruleNo) []setting {
	return []setting{
		flag("on", func(v *values) *bool { return &v.rules[no].on }),
		severity("severity", func(v *values) *Severity { return &v.rules[no].severity }),
		sentence("why", func(v *values) *string { return &v.rules[no].why }),
		sentence("source", func(v *values) *string { return &v.rules[no].source }),
	}
}

// generalSettings stand in no rule's table.
var generalSettings = slices.Concat([]setting{
	shiftTimes("shifts", func(v *values) *[]line.ShiftTime { return &v.shifts }),
	span("still_in_after", func(v *values) *time.Duration { return &v.stillInAfter }, 24*time.Hour, 30*24*time.Hour),
}, learningSettings, ratedSettings())
