// Package words is the one place where keys become sentences. The rest of the
// program passes keys with typed arguments (a duration, a minute, a code);
// here they are put into the reader's language and the ward's zone.
//
// The catalogue is a folder of TOML files per language, in the form of
// go-i18n: a key with `other`, and with the language's further plural forms
// (CLDR) where a number n needs them.
package words

import (
	"context"
	"fmt"
	"reflect"
	"time"

	"github.com/nicksnyder/go-i18n/v2/i18n"

	"dwellbook/internal/line"
)

// Speaker says how to speak to a reader: in which language, in which zone times
// are shown, and which moment is now (a time of today needs no date).
type Speaker struct {
	Language *Language // nil: as the context has it, else English
	Zone     *time.Location
	Now      line.Minute
}

type speakerKey struct{}

// With attaches a speaker to the context. A speaker without a language keeps
// the one that the context has.
func With(ctx context.Context, s Speaker) context.Context {
	if s.Language == nil {
		s.Language = To(ctx).Language
	}
	return context.WithValue(ctx, speakerKey{}, s)
}

// To is how the context's reader is spoken to; its language and zone are never nil.
func To(ctx context.Context) Speaker {
	s, _ := ctx.Value(speakerKey{}).(Speaker)
	if s.Zone == nil {
		s.Zone = time.UTC
	}
	if s.Language == nil {
		s.Language = english
	}
	return s
}

// In is the speaker with times by another clock.
func (s Speaker) In(zone *time.Location) Speaker {
	s.Zone = zone
	return s
}

// Coded is a value with a word of its own in the catalogue: a site, a rule.
type Coded interface {
	// Word is the catalogue key.
	Word() string
}

// Say is the sentence of a key, with args as alternating name and value. The
// value named n chooses the plural form. A key without a sentence is shown as
// the key in brackets; a test keeps that from reaching a screen.
func Say(ctx context.Context, key string, args ...any) string {
	s := To(ctx)
	if len(args) == 0 {
		if plain, ok := s.Language.plain[key]; ok {
			return plain
		}
	}
	data := make(map[string]any, len(args)/2)
	config := i18n.LocalizeConfig{MessageID: key, TemplateData: data}
	for i := 0; i+1 < len(args); i += 2 {
		name := fmt.Sprint(args[i])
		data[name] = s.value(ctx, args[i+1])
		if name == "n" {
			config.PluralCount = args[i+1]
		}
	}
	for l := s.Language; l != nil; l = l.under {
		if l.keys[key] {
			return l.localized(config)
		}
	}
	return "[" + key + "]"
}

func (l *Language) localized(config i18n.LocalizeConfig) string {
	text, err := l.localizer.Localize(&config)
	if err != nil && config.PluralCount != nil {
		// A sentence that reads the same for every number has one form only.
		config.PluralCount = nil
		text, err = l.localizer.Localize(&config)
	}
	if err != nil {
		return "[" + config.MessageID + "]"
	}
	return text
}

// Tell is Say for a message.
func Tell(ctx context.Context, m line.Message) string { return Say(ctx, m.Key, m.Args...) }

// Known reports whether the catalogue has the key.
func Known(key string) bool { return english.keys[key] }

// value turns a typed argument into what is shown.
func (s Speaker) value(ctx context.Context, v any) any {
	switch v := v.(type) {
	case time.Duration:
		return Span(ctx, v)
	case line.Minute:
		return s.Moment(v)
	case time.Time:
		return s.Moment(line.MinuteOf(v))
	case line.Gauge:
		return v.String()
	case line.Share, line.Hours, line.PValue, line.Number:
		return Number(ctx, v)
	case line.Message:
		return Tell(ctx, v)
	case Coded:
		return Say(ctx, v.Word())
	}
	if x := reflect.ValueOf(v); x.Kind() == reflect.Float64 { // rounded by whoever passes it
		return s.Language.marked(fmt.Sprint(v))
	}
	return v
}
