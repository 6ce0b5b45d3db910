package audit

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"dwellbook/internal/line"
)

// Form is how a person types what a key of a policy holds.
type Form uint8

// The forms.
const (
	SpanForm     Form = iota // a length of time, as in the file
	NumberForm               // a whole number
	DecimalForm              // a number
	ChoiceForm               // one of a few words
	FlagForm                 // "true" or "false"
	SentenceForm             // a sentence, without quotes
	TimesForm                // times of day, parted by commas
)

// Field is one key of a policy as a person edits it.
type Field struct {
	Key      string // the whole of it, such as "review-overdue.grace"
	Form     Form
	Value    string   // as typed; "" where it is not set
	Allowed  string   // what is allowed, as in a PolicyError
	Choices  []string // ChoiceForm
	Optional bool     // may be left empty: not set
}

// Fields lists what can be edited of one rule, or, for the empty rule, of the
// whole policy, in the order of the file.
func (p *Policy) Fields(rule line.Rule) []Field {
	settings, ok := settingsOf(rule)
	if !ok {
		return nil
	}
	list := make([]Field, len(settings))
	for i, s := range settings {
		list[i] = Field{
			Key: fullKey(rule, s.key), Form: s.form, Value: s.show(&p.values), Allowed: s.allowed, Choices: s.choices, Optional: s.optional,
		}
	}
	return list
}

func settingsOf(rule line.Rule) ([]setting, bool) {
	if rule == "" {
		return generalSettings, true
	}
	no := slices.Index(ruleIDs[:], rule)
	if no < 0 {
		return nil, false
	}
	return slices.Concat(commonSettings(ruleNo(no)), registry[no].settings), true
}

func fullKey(rule line.Rule, key string) string {
	return strings.TrimPrefix(string(rule)+"."+key, ".")
}

// Edit is the policy's file with the keys set to what was typed, by whole key.
// Only lines of keys whose value changes are rewritten; a key that the file
// leaves out is added to its table. A key that is not among those typed stays.
// The error is a PolicyErrors with everything that cannot be taken.
func (p *Policy) Edit(typed map[string]string) ([]byte, error) {
	text := slices.Clone(p.text)
	var wrong PolicyErrors
	for _, rule := range slices.Concat([]line.Rule{""}, ruleIDs[:]) {
		settings, _ := settingsOf(rule)
		for _, s := range settings {
			key := fullKey(rule, s.key)
			word, ok := typed[key]
			if !ok {
				continue
			}
			literal, changed, err := p.literal(s, word)
			var e *valueError
			switch {
			case errors.As(err, &e):
				wrong = append(wrong, &PolicyError{Key: key, Problem: e.problem, Allowed: s.allowed})
			case changed:
				text = outlineOf(text).set(strings.Split(key, "."), literal)
			}
		}
	}
	if len(wrong) > 0 {
		lines := linesOf(p.text)
		for _, e := range wrong {
			e.Line = lines[e.Key]
		}
		return nil, wrong
	}
	return text, nil
}

// literal is what was typed as a policy file writes it, "" for a key to be
// taken out; changed is false where it says what the policy says already.
func (p *Policy) literal(s setting, typed string) (literal string, changed bool, err error) {
	typed = oneLine(typed)
	was := s.show(&p.values)
	if typed == oneLine(was) {
		return "", false, nil
	}
	if typed == "" && s.optional {
		return "", true, nil
	}
	v := p.values
	if err := s.read(&v, s.raw(typed)); err != nil {
		return "", false, err
	}
	is := s.show(&v)
	return s.written(is), is != was, nil
}

// oneLine has every run of white space as one space.
func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// raw is what was typed, as the TOML reader would give it.
func (s *setting) raw(typed string) any {
	switch s.form {
	case NumberForm:
		if n, err := strconv.ParseInt(typed, 10, 64); err == nil {
			return n
		}
	case DecimalForm:
		if x, err := strconv.ParseFloat(typed, 64); err == nil {
			return x
		}
	case FlagForm:
		if on, err := strconv.ParseBool(typed); err == nil {
			return on
		}
	case TimesForm:
		list := []any{}
		for _, one := range strings.FieldsFunc(typed, func(r rune) bool { return r == ',' || r == ' ' }) {
			list = append(list, one)
		}
		return list
	}
	return typed
}

// written is a shown value as a policy file writes it.
func (s *setting) written(shown string) string {
	switch _, err := strconv.Atoi(shown); {
	case s.form == NumberForm, s.form == DecimalForm, s.form == FlagForm, s.form == ChoiceForm && err == nil:
		return shown
	case s.form == TimesForm:
		return `["` + strings.ReplaceAll(shown, ", ", `", "`) + `"]`
	}
	return quoted(shown)
}

// quoted is a TOML basic string.
func quoted(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range text {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
