package audit

import (
	"bytes"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// outline is where the keys of a TOML file stand, so that one can be changed
// and every other byte kept.
type outline struct {
	text    []byte
	pairs   []pair
	headers []header // the first is the file's top, before any
}

// pair is a key and its value.
type pair struct {
	path       []string
	under      int // how many of the path are its header's; all but the last in an inline table
	start      int // of the key
	value, end int // of the value
	inline     bool
	last       bool // of its inline table
}

// header is a table's header, and what stands under it.
type header struct {
	path []string
	end  int // after the line of its last pair, else of the header itself
}

// outlineOf reads a file that is known to be TOML.
func outlineOf(text []byte) *outline {
	o := &outline{text: text, headers: []header{{}}}
	var p unstable.Parser
	p.Reset(text)
	for p.NextExpression() {
		switch node := p.Expression(); node.Kind {
		case unstable.Table:
			path, _, end := keyOf(nil, node)
			o.headers = append(o.headers, header{path, o.lineEnd(end)})
		case unstable.ArrayTable:
			o.headers = append(o.headers, header{end: -1}) // no policy has one
		case unstable.KeyValue:
			last := &o.headers[len(o.headers)-1]
			i := o.add(last.path, node, false)
			last.end = o.lineEnd(o.pairs[i].end)
		}
	}
	return o
}

// keyOf is the path of a header or pair, and where its key stands.
func keyOf(base []string, node *unstable.Node) (path []string, start, end int) {
	path, start = slices.Clone(base), -1
	for it := node.Key(); it.Next(); {
		raw := it.Node().Raw
		path = append(path, string(it.Node().Data))
		if start < 0 {
			start = int(raw.Offset)
		}
		end = int(raw.Offset + raw.Length)
	}
	return path, start, end
}

// add notes a pair, then those inside it, and gives its place.
func (o *outline) add(base []string, node *unstable.Node, inline bool) int {
	path, start, end := keyOf(base, node)
	from := end + bytes.IndexByte(o.text[end:], '=') + 1
	for o.text[from] == ' ' || o.text[from] == '\t' {
		from++
	}
	place := len(o.pairs)
	o.pairs = append(o.pairs, pair{path: path, under: len(base), start: start, value: from, end: valueEnd(o.text, from), inline: inline})
	if value := node.Value(); value.Kind == unstable.InlineTable {
		member := -1
		for it := value.Children(); it.Next(); {
			member = o.add(path, it.Node(), true)
		}
		if member >= 0 {
			o.pairs[member].last = true
		}
	}
	return place
}

// valueEnd is where the TOML value that starts at i ends.
func valueEnd(text []byte, i int) int {
	for _, quote := range []string{`"""`, `'''`, `"`, `'`} {
		if bytes.HasPrefix(text[i:], []byte(quote)) {
			return stringEnd(text, i+len(quote), quote)
		}
	}
	if text[i] == '[' || text[i] == '{' {
		return listEnd(text, i+1)
	}
	end := i
	for end < len(text) && !strings.ContainsRune(",]}#\r\n", rune(text[end])) {
		end++
	}
	return i + len(bytes.TrimRight(text[i:end], " \t"))
}

// stringEnd is where a string ends whose inside starts at i.
func stringEnd(text []byte, i int, quote string) int {
	for i < len(text) && !bytes.HasPrefix(text[i:], []byte(quote)) {
		if text[i] == '\\' && quote[0] == '"' {
			i++
		}
		i++
	}
	i = min(i+len(quote), len(text))
	for n := 0; len(quote) == 3 && n < 2 && i < len(text) && text[i] == quote[0]; n++ { // """two more belong to the text"""""
		i++
	}
	return i
}

// listEnd is where an array or inline table ends whose inside starts at i.
func listEnd(text []byte, i int) int {
	for i < len(text) {
		switch text[i] {
		case ']', '}':
			return i + 1
		case '#':
			i = lineEnd(text, i)
		case '"', '\'', '[', '{':
			i = valueEnd(text, i)
		default:
			i++
		}
	}
	return i
}

// lineEnd is after the line that holds i.
func lineEnd(text []byte, i int) int {
	if n := bytes.IndexByte(text[i:], '\n'); n >= 0 {
		return i + n + 1
	}
	return len(text)
}

func (o *outline) lineEnd(i int) int { return lineEnd(o.text, i) }

// set gives the file with the key set to a literal, or, if that is empty,
// without the key.
func (o *outline) set(key []string, literal string) []byte {
	i := slices.IndexFunc(o.pairs, func(p pair) bool { return slices.Equal(p.path, key) })
	switch {
	case i >= 0 && literal != "":
		return o.splice(o.pairs[i].value, o.pairs[i].end, literal)
	case i >= 0:
		return o.without(o.pairs[i])
	case literal != "":
		return o.with(key, literal)
	}
	return o.text
}

func (o *outline) splice(from, until int, with string) []byte {
	return slices.Concat(o.text[:from], []byte(with), o.text[until:])
}

// without takes a pair out, with its line or its comma.
func (o *outline) without(p pair) []byte {
	if !p.inline {
		return o.splice(bytes.LastIndexByte(o.text[:p.start], '\n')+1, o.lineEnd(p.end), "")
	}
	from, until := p.start, p.end
	if !p.last {
		until += len(o.text[until:]) - len(bytes.TrimLeft(o.text[until:], " \t,"))
	} else {
		from = len(bytes.TrimRight(o.text[:from], " \t,"))
	}
	return o.splice(from, until, "")
}

// with adds a key to the innermost table that the file has for it.
func (o *outline) with(key []string, literal string) []byte {
	for n := len(key) - 1; n > 0; n-- {
		for _, p := range o.pairs {
			if slices.Equal(p.path, key[:n]) && o.text[p.value] == '{' {
				return o.intoInline(p, strings.Join(key[n:], ".")+" = "+literal)
			}
		}
		for _, h := range o.headers {
			if slices.Equal(h.path, key[:n]) {
				return o.after(h.end, strings.Join(key[n:], ".")+" = "+literal)
			}
		}
		for _, p := range slices.Backward(o.pairs) { // a table made by dotted keys alone
			if !p.inline && p.under < n && len(p.path) > n && slices.Equal(p.path[:n], key[:n]) {
				return o.after(o.lineEnd(p.end), strings.Join(key[p.under:], ".")+" = "+literal)
			}
		}
	}
	if len(key) == 1 {
		return o.after(o.headers[0].end, key[0]+" = "+literal)
	}
	return o.after(len(o.text), "", "["+key[0]+"]", strings.Join(key[1:], ".")+" = "+literal)
}

func (o *outline) intoInline(table pair, member string) []byte {
	if len(bytes.TrimSpace(o.text[table.value+1:table.end-1])) > 0 {
		member += ","
	}
	return o.splice(table.value+1, table.value+1, " "+member)
}

// after puts lines after the line that ends at i.
func (o *outline) after(i int, lines ...string) []byte {
	end := "\n"
	if bytes.Contains(o.text, []byte("\r\n")) {
		end = "\r\n"
	}
	put := strings.Join(lines, end) + end
	if i > 0 && o.text[i-1] != '\n' {
		put = end + put
	}
	return o.splice(i, i, put)
}
