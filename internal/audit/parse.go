package audit

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// PolicyError says what is wrong in a policy file.
type PolicyError struct {
	File    string
	Line    int    // from 1
	Key     string // such as "review-overdue.grace"; empty where the file is no TOML
	Problem string
	Allowed string // what is allowed; may be empty
}

// Error is the whole of it in one sentence.
func (e *PolicyError) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s:%d: ", e.File, e.Line)
	if e.Key != "" {
		fmt.Fprintf(&b, "%s: ", e.Key)
	}
	b.WriteString(e.Problem)
	if e.Allowed != "" {
		fmt.Fprintf(&b, "; allowed: %s", e.Allowed)
	}
	return b.String()
}

// PolicyErrors is everything that is wrong in a policy file, in order of line.
type PolicyErrors []*PolicyError

// Error is one line for each.
func (e PolicyErrors) Error() string {
	lines := make([]string, len(e))
	for i, one := range e {
		lines[i] = one.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives each.
func (e PolicyErrors) Unwrap() []error {
	list := make([]error, len(e))
	for i, one := range e {
		list[i] = one
	}
	return list
}

func (e PolicyErrors) sort() {
	slices.SortFunc(e, func(a, b *PolicyError) int { return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Key, b.Key)) })
}

// ParsePolicy reads a policy file; name is what errors call it. What the file
// leaves out is as in the default policy. The error is a PolicyErrors, of one
// only where the file is no TOML.
func ParsePolicy(name string, text []byte) (*Policy, error) {
	v := DefaultPolicy().values
	return parsePolicy(name, text, &v)
}

// parsePolicy puts what the file says over v.
func parsePolicy(name string, text []byte, v *values) (*Policy, error) {
	tree := map[string]any{}
	if err := toml.Unmarshal(text, &tree); err != nil {
		return nil, PolicyErrors{notTOML(name, err)}
	}
	r := reader{file: name, values: v, lines: linesOf(text)}
	names := ruleNames()
	r.table("", tree, generalSettings, names)
	for no, name := range names {
		raw, ok := tree[name]
		if !ok {
			continue
		}
		table, ok := raw.(map[string]any)
		if !ok {
			r.fail(name, "is no table", "["+name+"]")
			continue
		}
		r.table(name, table, slices.Concat(commonSettings(ruleNo(no)), registry[no].settings), nil)
	}
	r.learning()
	if len(r.errs) > 0 {
		r.errs.sort()
		return nil, r.errs
	}
	return &Policy{name: nameOf(text), text: bytes.Clone(text), values: *v, cannulas: v.cannulas()}, nil
}

func notTOML(name string, err error) *PolicyError {
	e := &PolicyError{File: name, Line: 1, Problem: strings.TrimPrefix(err.Error(), "toml: ")}
	var at *toml.DecodeError
	if errors.As(err, &at) {
		e.Line, _ = at.Position()
		e.Key = strings.Join(at.Key(), ".")
	}
	return e
}

type reader struct {
	file   string
	values *values
	lines  map[string]int
	errs   PolicyErrors
}

func (r *reader) fail(key, problem, allowed string) {
	r.errs = append(r.errs, &PolicyError{File: r.file, Line: r.lines[key], Key: key, Problem: problem, Allowed: allowed})
}

// table reads one table; tables inside it that are named are left to the caller.
func (r *reader) table(path string, table map[string]any, settings []setting, named []string) {
	allowed := slices.Clone(named)
	for _, s := range settings {
		allowed = append(allowed, s.key)
	}
	for key, raw := range flat(table, named) {
		full := strings.TrimPrefix(path+"."+key, ".")
		i := slices.IndexFunc(settings, func(s setting) bool { return s.key == key })
		if i < 0 {
			if isEmptyTableOf(settings, key, raw) {
				continue
			}
			r.fail(full, "there is no such key", strings.Join(allowed, ", "))
			continue
		}
		var wrong *valueError
		if err := settings[i].read(r.values, raw); errors.As(err, &wrong) {
			r.fail(full, wrong.problem, wrong.allowed)
		}
	}
}

// isEmptyTableOf reports whether the key is a table without keys that some
// setting could stand in.
func isEmptyTableOf(settings []setting, key string, raw any) bool {
	table, isTable := raw.(map[string]any)
	return isTable && len(table) == 0 &&
		slices.ContainsFunc(settings, func(s setting) bool { return strings.HasPrefix(s.key, key+".") })
}

// flat gives the keys of a table with those of its inner tables as "inner.key".
func flat(table map[string]any, named []string) map[string]any {
	keys := map[string]any{}
	for key, raw := range table {
		inner, isTable := raw.(map[string]any)
		switch {
		case slices.Contains(named, key):
		case isTable:
			for k, v := range flat(inner, nil) {
				keys[key+"."+k] = v
			}
			if len(inner) == 0 {
				keys[key] = raw
			}
		default:
			keys[key] = raw
		}
	}
	return keys
}

// linesOf finds the line on which each key of a TOML file stands.
func linesOf(text []byte) map[string]int {
	lines := map[string]int{}
	note := func(path []string, node *unstable.Node) []string {
		for it := node.Key(); it.Next(); {
			key := it.Node()
			path = append(slices.Clip(path), string(key.Data))
			full := strings.Join(path, ".")
			if _, known := lines[full]; !known {
				lines[full] = 1 + bytes.Count(text[:key.Raw.Offset], []byte("\n"))
			}
		}
		return path
	}
	var walk func(table []string, node *unstable.Node)
	walk = func(table []string, node *unstable.Node) {
		path := note(table, node)
		if value := node.Value(); value.Kind == unstable.InlineTable {
			for it := value.Children(); it.Next(); {
				walk(path, it.Node())
			}
		}
	}
	var p unstable.Parser
	p.Reset(text)
	var table []string
	for p.NextExpression() {
		switch node := p.Expression(); node.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = note(nil, node)
		case unstable.KeyValue:
			walk(table, node)
		}
	}
	return lines
}

func ruleNames() []string {
	names := make([]string, ruleCount)
	for i, id := range ruleIDs {
		names[i] = string(id)
	}
	return names
}
