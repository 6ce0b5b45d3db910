package interop

import (
	"bufio"
	"bytes"
	"crypto/rand"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// LongestEntry is the length in bytes above which a line of a file of entries is not read.
const LongestEntry = 1 << 20

// entryLine is one line of a file of entries.
type entryLine struct {
	Entry json.RawMessage `json:"entry"`
	Texts []line.Sealed   `json:"texts"`
}

// WriteEntry writes one entry as one line: its canonical bytes as they are, and
// the texts that are still there.
func WriteEntry(w io.Writer, canonical []byte, texts []line.Sealed) error {
	var b bytes.Buffer
	b.WriteString(`{"entry":`)
	b.Write(canonical)
	if len(texts) > 0 {
		b.WriteString(`,"texts":`)
		enc := json.NewEncoder(&b)
		enc.SetEscapeHTML(false)
		if err := enc.Encode(texts); err != nil {
			return fmt.Errorf("write the texts of an entry: %w", err)
		}
		b.Truncate(b.Len() - 1) // the encoder's own line end
	}
	b.WriteString("}\n")
	_, err := w.Write(b.Bytes())
	return err
}

// ReadEntries reads a file of entries line by line and calls each with the
// line's number, the canonical bytes and the texts. Texts that stand bare in
// an entry, as {"text": …} or as a plain string, are sealed with a fresh salt.
// The first bad line ends it with a *fault.Error; so does an error of each,
// which is passed on as it is.
func ReadEntries(r io.Reader, each func(n int, canonical []byte, texts []line.Sealed) error) error {
	lines := bufio.NewScanner(r)
	lines.Buffer(make([]byte, 0, 1<<16), LongestEntry)
	n := 0
	for lines.Scan() {
		n++
		text := bytes.TrimSpace(lines.Bytes())
		if n == 1 {
			text = bytes.TrimPrefix(text, []byte("\ufeff"))
		}
		if len(text) == 0 {
			continue
		}
		canonical, texts, err := readEntry(text)
		if err != nil {
			return fault.Wrap(err, fault.Invalid, "interop.entry-unreadable", "line", n, "problem", err.Error())
		}
		if err := each(n, canonical, texts); err != nil {
			return err
		}
	}
	switch err := lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		return fault.Wrap(err, fault.TooLarge, "interop.entry-long", "line", n+1, "most", LongestEntry>>10)
	case err != nil:
		return fmt.Errorf("read entries after line %d: %w", n, err)
	}
	return nil
}

func readEntry(text []byte) ([]byte, []line.Sealed, error) {
	var l entryLine
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&l); err != nil {
		return nil, nil, err
	}
	if dec.InputOffset() != int64(len(text)) {
		return nil, nil, errors.New("something follows the object")
	}
	if len(l.Entry) == 0 {
		return nil, nil, errors.New(`an object with "entry" is needed`)
	}
	e, err := line.Decode(l.Entry, nil)
	if err != nil {
		return nil, nil, err
	}
	bare, err := wrapped(e, l.Entry)
	if err != nil {
		return nil, nil, err
	}
	canonical, fresh, err := line.SealJSON(bare, freshSalt)
	if err != nil {
		return nil, nil, err
	}
	for _, t := range l.Texts {
		switch {
		case line.Seal(t.Salt, t.Text).Hash != t.Hash:
			return nil, nil, fmt.Errorf("the text with hash %q is not the one that was sealed", t.Hash)
		case !bytes.Contains(canonical, []byte(`{"sealed":"`+t.Hash+`"}`)):
			return nil, nil, fmt.Errorf("the entry has no text with hash %q", t.Hash)
		}
	}
	return canonical, append(l.Texts, fresh...), nil
}

func freshSalt() string {
	salt := make([]byte, 16)
	rand.Read(salt) // never fails (crypto/rand)
	return base64.RawURLEncoding.EncodeToString(salt)
}

// wrapped gives the entry with each plain string that stands where a text
// belongs as {"text": …}, so that no name or note is kept for ever by mistake.
func wrapped(e line.Entry, raw []byte) ([]byte, error) {
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.UseNumber()
	var tree any
	if err := dec.Decode(&tree); err != nil {
		return nil, err
	}
	w := wrapper{}
	tree = w.wrap(reflect.ValueOf(e), tree)
	if w.err != nil {
		return nil, w.err
	}
	if !w.any {
		return raw, nil
	}
	return json.Marshal(tree)
}

type wrapper struct {
	any bool
	err error
}

var textType = reflect.TypeFor[line.Text]()

func (w *wrapper) wrap(v reflect.Value, tree any) any {
	if v.Kind() == reflect.Interface || v.Kind() == reflect.Pointer {
		v = v.Elem()
	}
	switch node := tree.(type) {
	case string:
		if v.IsValid() && v.Type() == textType {
			w.any = true
			return map[string]any{"text": node}
		}
	case []any:
		for i := range node {
			if v.Kind() == reflect.Slice && i < v.Len() {
				node[i] = w.wrap(v.Index(i), node[i])
			}
		}
	case map[string]any:
		switch {
		case v.IsValid() && v.Type() == textType:
			if node["text"] == nil && node["sealed"] == nil || len(node) != 1 {
				w.err = errors.New(`a text is a string, {"text": …} or {"sealed": …}`)
			}
		case v.Kind() == reflect.Struct:
			w.fields(v, node)
		}
	}
	return tree
}

// fields goes through the fields the type knows. Their names are read in
// capitals too, so they are put right: a text must not hide under another name.
func (w *wrapper) fields(v reflect.Value, node map[string]any) {
	for i := range v.NumField() {
		name, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
		var found []string
		for key := range node {
			if strings.EqualFold(key, name) {
				found = append(found, key)
			}
		}
		switch {
		case len(found) > 1:
			w.err = fmt.Errorf("%q stands twice, in capitals and without", name)
		case len(found) == 1:
			child := w.wrap(v.Field(i), node[found[0]])
			if found[0] != name {
				w.any = true
				delete(node, found[0])
			}
			node[name] = child
		}
	}
}
