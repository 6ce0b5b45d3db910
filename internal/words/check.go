package words

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"sync"
	"text/template"
	"text/template/parse"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
	"golang.org/x/text/language"
)

// Fault is what is wrong at one place of a file of words.
type Fault struct {
	File    string
	Line    int // 0: of the file as a whole
	Problem string
}

func (f *Fault) Error() string {
	if f.Line == 0 {
		return fmt.Sprintf("%s: %s", f.File, f.Problem)
	}
	return fmt.Sprintf("%s:%d: %s", f.File, f.Line, f.Problem)
}

// Read reads the words of a hospital's own: a folder for each language, named by
// its tag, with TOML files as those of the program. What a language lacks is said
// as the program says it in that language, else in English. The error joins a
// [*Fault] for each thing that is wrong.
func Read(folder fs.FS) (Languages, error) {
	entries, err := fs.ReadDir(folder, ".")
	if err != nil {
		return nil, fmt.Errorf("read words: %w", err)
	}
	all := Embedded()
	var wrong []error
	for _, e := range entries {
		if !e.IsDir() {
			continue
		}
		tag, err := language.Parse(e.Name())
		if err != nil {
			wrong = append(wrong, &Fault{File: e.Name(), Problem: "the folder's name is no language tag, such as fr or pt-BR"})
			continue
		}
		sub, err := fs.Sub(folder, e.Name())
		if err != nil {
			return nil, fmt.Errorf("read words: %w", err)
		}
		at := slices.IndexFunc(all, func(l *Language) bool { return l.tag == tag || l == english && e.Name() == "en" })
		under := english
		if at >= 0 {
			under = all[at]
		}
		l, err := load(sub, tag, e.Name(), under, checker(tag))
		switch {
		case err != nil:
			wrong = append(wrong, err)
		case at >= 0:
			all[at] = l
		default:
			all = append(all, l)
		}
	}
	return all, errors.Join(wrong...)
}

// read gives the sentences of a folder, or a Fault for each thing wrong in them.
func read(folder fs.FS, name string, check func(key string, forms map[string]string) string) ([]*i18n.Message, error) {
	paths, err := fs.Glob(folder, "*.toml")
	if err != nil {
		return nil, err
	}
	var all []*i18n.Message
	var wrong []error
	if len(paths) == 0 {
		wrong = append(wrong, &Fault{File: name, Problem: "no file here ends in .toml"})
	}
	seen := map[string]string{}
	for _, path := range paths {
		text, err := fs.ReadFile(folder, path)
		if err != nil {
			return nil, err
		}
		file := name + "/" + path
		var sentences map[string]map[string]string
		if err := toml.Unmarshal(text, &sentences); err != nil {
			wrong = append(wrong, &Fault{File: file, Line: lineOf(err), Problem: err.Error()})
			continue
		}
		lines := keyLines(text)
		for _, key := range slices.Sorted(maps.Keys(sentences)) {
			problem := check(key, sentences[key])
			if other, twice := seen[key]; twice {
				problem = fmt.Sprintf("%q stands in %s too", key, other)
			}
			if problem != "" {
				wrong = append(wrong, &Fault{File: file, Line: lines[key], Problem: problem})
			}
			seen[key] = file
			forms := sentences[key]
			all = append(all, &i18n.Message{
				ID: key, Zero: forms["zero"], One: forms["one"], Two: forms["two"], Few: forms["few"], Many: forms["many"], Other: forms["other"],
			})
		}
	}
	return all, errors.Join(wrong...)
}

func lineOf(err error) int {
	if decode := (*toml.DecodeError)(nil); errors.As(err, &decode) {
		row, _ := decode.Position()
		return row
	}
	return 0
}

// keyLines finds the line on which each key's table stands.
func keyLines(text []byte) map[string]int {
	lines := map[string]int{}
	var p unstable.Parser
	p.Reset(text)
	for p.NextExpression() {
		node := p.Expression()
		if node.Kind != unstable.Table {
			continue
		}
		if it := node.Key(); it.Next() {
			key := it.Node()
			lines[string(key.Data)] = 1 + bytes.Count(text[:key.Raw.Offset], []byte("\n"))
		}
	}
	return lines
}

// checker gives what says what is wrong with one sentence of a translation.
func checker(tag language.Tag) func(key string, forms map[string]string) string {
	allowed := pluralForms(tag)
	return func(key string, forms map[string]string) string {
		if !Known(key) {
			return fmt.Sprintf("the program has no sentence %q", key)
		}
		if forms["other"] == "" {
			return fmt.Sprintf("%q has no form other", key)
		}
		known := used()[key]
		for _, form := range slices.Sorted(maps.Keys(forms)) {
			if !slices.Contains(allowed, form) {
				return fmt.Sprintf("%q: this language has no plural form %s; it has %s", key, form, strings.Join(allowed, ", "))
			}
			names, err := placeholders(forms[form])
			if err != nil {
				return fmt.Sprintf("%q: %s", key, err)
			}
			if strange := without(names, known); len(strange) > 0 {
				return fmt.Sprintf("%q: nothing stands for %s here; there is %s", key, strings.Join(strange, ", "), strings.Join(known, ", "))
			}
			if missing := without(known, names); form == "other" && len(missing) > 0 {
				return fmt.Sprintf("%q: %s is left out", key, strings.Join(missing, ", "))
			}
		}
		return ""
	}
}

// used are the names of the values that each English sentence takes.
var used = sync.OnceValue(func() map[string][]string {
	all := map[string][]string{}
	folder, err := fs.Sub(files, "en")
	if err != nil {
		panic(err)
	}
	_, err = read(folder, "en", func(key string, forms map[string]string) string {
		names, err := placeholders(forms["other"])
		if err != nil {
			return err.Error()
		}
		all[key] = names
		return ""
	})
	if err != nil {
		panic(err)
	}
	return all
})

func without(list, known []string) []string {
	return slices.DeleteFunc(slices.Clone(list), func(name string) bool { return slices.Contains(known, name) })
}

// pluralForms are the forms that the language tells apart by number (CLDR, as
// go-i18n has it): those that come out for some number.
func pluralForms(tag language.Tag) []string {
	bundle := i18n.NewBundle(tag)
	all := &i18n.Message{ID: "n", Zero: "zero", One: "one", Two: "two", Few: "few", Many: "many", Other: "other"}
	if err := bundle.AddMessages(tag, all); err != nil {
		return []string{"other"}
	}
	localizer := i18n.NewLocalizer(bundle, tag.String())
	found := map[string]bool{"other": true}
	try := func(n any) {
		if form, err := localizer.Localize(&i18n.LocalizeConfig{MessageID: "n", PluralCount: n}); err == nil {
			found[form] = true
		}
	}
	for n := range 201 {
		try(n)
	}
	try(1_000_000) // French, Spanish, Italian and Portuguese have a form for millions
	try("1.5")     // Czech, Slovak and Lithuanian have one for fractions
	return slices.Sorted(maps.Keys(found))
}

// placeholders are the names that a sentence has values put in for, sorted.
func placeholders(text string) ([]string, error) {
	if !strings.Contains(text, "{{") {
		return nil, nil
	}
	t, err := template.New("").Parse(text)
	if err != nil {
		return nil, err
	}
	names := map[string]bool{}
	if err := fields(t.Root, names); err != nil {
		return nil, err
	}
	return slices.Sorted(maps.Keys(names)), nil
}

// fields notes the names in a sentence. It may hold {{.name}} and
// {{if .name}}…{{else}}…{{end}}, nothing else: that always comes out.
func fields(n parse.Node, names map[string]bool) error {
	switch n := n.(type) {
	case *parse.TextNode:
		return nil
	case *parse.ListNode:
		if n == nil { // no else
			return nil
		}
		for _, child := range n.Nodes {
			if err := fields(child, names); err != nil {
				return err
			}
		}
		return nil
	case *parse.ActionNode:
		return fields(n.Pipe, names)
	case *parse.IfNode:
		return errors.Join(fields(n.Pipe, names), fields(n.List, names), fields(n.ElseList, names))
	case *parse.PipeNode:
		if len(n.Decl) == 0 && len(n.Cmds) == 1 && len(n.Cmds[0].Args) == 1 {
			return fields(n.Cmds[0].Args[0], names)
		}
	case *parse.FieldNode:
		if len(n.Ident) == 1 {
			names[n.Ident[0]] = true
			return nil
		}
	}
	return fmt.Errorf("%s cannot stand in a sentence; there can be {{.name}} and {{if .name}}…{{end}}", n)
}
