package line

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// Sealed is a text kept apart from its entry. Hash stands in the entry.
type Sealed struct {
	Hash string `json:"hash"`
	Salt string `json:"salt"` // base64, 16 random bytes
	Text string `json:"text"`
}

// Seal hashes a text with a salt: base64 of SHA-256 over salt, a zero byte and text.
func Seal(salt, text string) Sealed {
	sum := sha256.Sum256([]byte(salt + "\x00" + text))
	return Sealed{Hash: base64.RawURLEncoding.EncodeToString(sum[:]), Salt: salt, Text: text}
}

// Canonical writes an entry as the bytes that are kept for ever: JSON without
// white space, keys sorted, every text replaced by its hash. It returns the
// texts beside them. newSalt gives a fresh salt for each.
func Canonical(e Entry, newSalt func() string) ([]byte, []Sealed, error) {
	raw, err := encode(e)
	if err != nil {
		return nil, nil, fmt.Errorf("encode entry %s: %w", e.ID, err)
	}
	return SealJSON(raw, newSalt)
}

// SealJSON does the same for an entry that is JSON already, so that fields
// this version does not know survive. Nodes sealed before stay as they are.
func SealJSON(raw []byte, newSalt func() string) ([]byte, []Sealed, error) {
	tree, err := generic(raw)
	if err != nil {
		return nil, nil, err
	}
	var sealed []Sealed
	tree = rewrite(tree, "text", func(v any) any {
		text, ok := v.(string)
		if !ok {
			return map[string]any{"text": v}
		}
		s := Seal(newSalt(), text)
		sealed = append(sealed, s)
		return map[string]any{"sealed": s.Hash}
	})
	out, err := encode(tree)
	return out, sealed, err
}

// Decode reads canonical bytes, with the texts that are still there; open may
// be nil. An unknown kind or word is an error, an unknown field is not.
func Decode(canonical []byte, open func(hash string) (string, bool)) (Entry, error) {
	if open != nil && bytes.Contains(canonical, []byte(`"sealed"`)) {
		tree, err := generic(canonical)
		if err != nil {
			return Entry{}, err
		}
		tree = rewrite(tree, "sealed", func(v any) any {
			hash, _ := v.(string)
			if text, ok := open(hash); ok {
				return map[string]any{"text": text}
			}
			return map[string]any{"sealed": v}
		})
		if canonical, err = encode(tree); err != nil {
			return Entry{}, err
		}
	}
	var e Entry
	err := json.Unmarshal(canonical, &e)
	return e, err
}

// rewrite replaces each object that has only the key name by what f makes of its value.
func rewrite(tree any, name string, f func(any) any) any {
	switch node := tree.(type) {
	case map[string]any:
		if v, ok := node[name]; ok && len(node) == 1 {
			return f(v)
		}
		for k, v := range node {
			node[k] = rewrite(v, name, f)
		}
	case []any:
		for i, v := range node {
			node[i] = rewrite(v, name, f)
		}
	}
	return tree
}

// UnmarshalJSON reads the body by the kind that stands beside it.
func (e *Entry) UnmarshalJSON(raw []byte) error {
	type plain Entry
	var outer struct {
		plain
		Body json.RawMessage `json:"body"`
	}
	if err := json.Unmarshal(raw, &outer); err != nil {
		return err
	}
	*e = Entry(outer.plain)
	read, ok := bodies[e.Kind]
	if !ok {
		return fmt.Errorf("entry %s: a kind is needed", e.ID)
	}
	if len(outer.Body) == 0 {
		outer.Body = []byte("{}")
	}
	body, err := read(outer.Body)
	if c, ok := body.(Correction); ok && err == nil && c.Replacement.Body == nil {
		err = errors.New("the replacement is missing")
	}
	if err != nil {
		return fmt.Errorf("body of %s entry %s: %w", e.Kind, e.ID, err)
	}
	e.Body = body
	return nil
}

// bodies reads the body of each kind. It is filled at start because a
// correction's body holds an entry.
var bodies map[Kind]func([]byte) (Body, error)

func init() {
	bodies = map[Kind]func([]byte) (Body, error){
		KindAdmission: body[Admission], KindOccasion: body[Occasion], KindFacts: body[Facts], KindReview: body[Review],
		KindNotSeen: body[NotSeen], KindDressing: body[Dressing], KindTransfer: body[Transfer], KindDischarge: body[Discharge],
		KindRemoval: body[Removal], KindSiteCheck: body[SiteCheck], KindInfection: body[InfectionOutcome],
		KindJustification: body[Justification], KindFollowUp: body[FollowUp], KindCorrection: body[Correction],
		KindVoid: body[Void], KindErasure: body[Erasure], KindPolicy: body[Policy], KindWard: body[Ward],
		KindHospital: body[Hospital], KindAccount: body[Account], KindOperatorLink: body[OperatorLink],
		KindAttemptAgreement: body[AttemptAgreement], KindRecordShare: body[RecordShare],
	}
}

func body[B Body](raw []byte) (Body, error) {
	var b B
	err := json.Unmarshal(raw, &b)
	return b, err
}

func encode(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimRight(b.Bytes(), "\n"), nil
}

// generic reads JSON as maps and lists, numbers to the letter.
func generic(raw []byte) (any, error) {
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.UseNumber()
	var tree any
	if err := dec.Decode(&tree); err != nil {
		return nil, err
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("more than one JSON value")
	}
	return tree, nil
}
