package words

import (
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"
)

//go:embed en/*.toml de/*.toml
var files embed.FS

// Language is a language that the program speaks.
type Language struct {
	tag       language.Tag
	localizer *i18n.Localizer
	plain     map[string]string // sentences without arguments, ready to use
	keys      map[string]bool
	under     *Language // speaks where this one lacks a sentence; nil for English
	decimal   string    // the decimal mark (CLDR)
	names     *strings.Replacer
}

// Tag is the language's BCP 47 tag, such as de.
func (l *Language) Tag() string { return l.tag.String() }

// Name is what the language calls itself.
func (l *Language) Name() string { return l.say("language.name") }

// say is a sentence without arguments.
func (l *Language) say(key string) string {
	for ; l != nil; l = l.under {
		if text, ok := l.plain[key]; ok {
			return text
		}
	}
	return "[" + key + "]"
}

var english = embedded(language.BritishEnglish, "en", nil)

// Languages are those the program speaks, English first.
type Languages []*Language

// Embedded are the languages that the program carries.
func Embedded() Languages { return Languages{english, german} }

var german = embedded(language.German, "de", english)

// Choose is the language of the first wish that can be met, English where none
// can. A wish is a tag, or what a browser sends as Accept-Language (RFC 9110,
// 12.5.4); an empty one wishes for nothing.
func (all Languages) Choose(wishes ...string) *Language {
	tags := make([]language.Tag, len(all))
	for i, l := range all {
		tags[i] = l.tag
	}
	matcher := language.NewMatcher(tags)
	for _, wish := range wishes {
		// Of a header that cannot be read to its end, what was read counts.
		wanted, _, _ := language.ParseAcceptLanguage(wish)
		if _, i, sure := matcher.Match(wanted...); sure > language.Low {
			return all[i]
		}
	}
	return english
}

// Speaks reports whether the tag is that of one of the languages.
func (all Languages) Speaks(tag string) bool {
	return slices.ContainsFunc(all, func(l *Language) bool { return l.Tag() == tag })
}

// embedded reads a language that the program carries. A fault in one is a fault
// of the build, and every test run would stop at it.
func embedded(tag language.Tag, folder string, under *Language) *Language {
	sub, err := fs.Sub(files, folder)
	if err != nil {
		panic(err)
	}
	trusted := func(string, map[string]string) string { return "" } // a test checks what is embedded
	l, err := load(sub, tag, folder, under, trusted)
	if err != nil {
		panic(fmt.Errorf("words: %w", err))
	}
	return l
}

// load reads the files of one language.
func load(folder fs.FS, tag language.Tag, name string, under *Language, check func(key string, forms map[string]string) (problem string)) (*Language, error) {
	messages, err := read(folder, name, check)
	if err != nil {
		return nil, err
	}
	bundle := i18n.NewBundle(tag)
	l := &Language{tag: tag, under: under, plain: map[string]string{}, keys: map[string]bool{}, decimal: decimalMark(tag)}
	for _, m := range messages {
		if err := bundle.AddMessages(tag, m); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		l.keys[m.ID] = true
		if m.Zero+m.One+m.Two+m.Few+m.Many == "" && !strings.Contains(m.Other, "{{") {
			l.plain[m.ID] = m.Other
		}
	}
	l.localizer = i18n.NewLocalizer(bundle, tag.String())
	l.names = l.calendar()
	return l, nil
}

// decimalMark is what the language writes between whole and parts.
func decimalMark(tag language.Tag) string {
	half := message.NewPrinter(tag).Sprint(number.Decimal(0.5, number.Scale(1)))
	return strings.Trim(half, "05")
}
