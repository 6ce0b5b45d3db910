// Package words is the one place where keys become sentences. The rest of the
// program passes keys with typed arguments (a duration, a minute, a code);
// here they are put into the reader's language and the ward's zone.
//
// The catalogue is a folder of TOML files per language, in the form of
// go-i18n: a key with `other`, and with `one` where a number n needs it.
package words

import (
	"context"
	"embed"
	"fmt"
	"io/fs"
	"path"
	"strings"
	"time"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/language"

	"dwellbook/internal/line"
)

//go:embed en/*.toml
var files embed.FS

// Speaker says how to speak to a reader: in which zone times are shown and
// which moment is now (a time of today needs no date).
type Speaker struct {
	Zone *time.Location
	Now  line.Minute
}

type speakerKey struct{}

// With attaches a speaker to the context.
func With(ctx context.Context, s Speaker) context.Context {
	return context.WithValue(ctx, speakerKey{}, s)
}

func from(ctx context.Context) Speaker {
	s, _ := ctx.Value(speakerKey{}).(Speaker)
	if s.Zone == nil {
		s.Zone = time.UTC
	}
	return s
}

// Coded is a value with a word of its own in the catalogue: a site, a rule.
type Coded interface {
	// Word is the catalogue key.
	Word() string
}

// Say is the sentence of a key, with args as alternating name and value. The
// value named n chooses between singular and plural. A key without a sentence
// is shown as the key in brackets; a test keeps that from reaching a screen.
func Say(ctx context.Context, key string, args ...any) string {
	if len(args) == 0 {
		if plain, ok := english.plain[key]; ok {
			return plain
		}
	}
	s := from(ctx)
	data := make(map[string]any, len(args)/2)
	config := i18n.LocalizeConfig{MessageID: key, TemplateData: data}
	for i := 0; i+1 < len(args); i += 2 {
		name := fmt.Sprint(args[i])
		data[name] = s.value(ctx, args[i+1])
		if name == "n" {
			config.PluralCount = args[i+1]
		}
	}
	text, err := english.localizer.Localize(&config)
	if err != nil && config.PluralCount != nil {
		// A sentence that reads the same for one has no singular of its own.
		config.PluralCount = nil
		text, err = english.localizer.Localize(&config)
	}
	if err != nil {
		return "[" + key + "]"
	}
	return text
}

// Tell is Say for a message.
func Tell(ctx context.Context, m line.Message) string { return Say(ctx, m.Key, m.Args...) }

// Known reports whether the catalogue has the key.
func Known(key string) bool {
	_, ok := english.keys[key]
	return ok
}

// value turns a typed argument into what is shown.
func (s Speaker) value(ctx context.Context, v any) any {
	switch v := v.(type) {
	case time.Duration:
		return Span(v)
	case line.Minute:
		return s.Moment(v)
	case time.Time:
		return s.Moment(line.MinuteOf(v))
	case line.Gauge:
		return v.String()
	case line.Share, line.Hours, line.PValue, line.Number:
		return Number(v)
	case line.Message:
		return Tell(ctx, v)
	case Coded:
		return Say(ctx, v.Word())
	}
	return v
}

type catalogue struct {
	localizer *i18n.Localizer
	plain     map[string]string // sentences without arguments, ready to use
	keys      map[string]struct{}
}

var english = load(language.BritishEnglish, "en")

// load reads one language's folder. The files are embedded, so a fault in one
// is a fault of the build, and every test run would stop at it.
func load(tag language.Tag, folder string) catalogue {
	bundle := i18n.NewBundle(tag)
	c := catalogue{plain: map[string]string{}, keys: map[string]struct{}{}}
	names, err := fs.Glob(files, path.Join(folder, "*.toml"))
	if err != nil {
		panic(err)
	}
	for _, name := range names {
		text, err := files.ReadFile(name)
		if err != nil {
			panic(err)
		}
		messages, err := bundle.ParseMessageBytes(tag, text, toml.Unmarshal)
		if err != nil {
			panic(fmt.Errorf("words: %s: %w", name, err))
		}
		for _, m := range messages {
			if _, twice := c.keys[m.ID]; twice {
				panic(fmt.Errorf("words: %s: %q stands twice", name, m.ID))
			}
			c.keys[m.ID] = struct{}{}
			if m.One == "" && !strings.Contains(m.Other, "{{") {
				c.plain[m.ID] = m.Other
			}
		}
	}
	c.localizer = i18n.NewLocalizer(bundle, tag.String())
	return c
}
