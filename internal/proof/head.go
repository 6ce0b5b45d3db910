package proof

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"dwellbook/internal/fault"
)

// Head says what a record holds at a moment.
type Head struct {
	Origin string // names the record
	Size   int64  // entries
	Root   tlog.Hash
	At     time.Time // to the second
}

// Signed is a head with its signature.
type Signed struct {
	Head
	Key  string // the public key, as signed notes write it
	Text string // the signed note: what is kept
}

// Key signs heads (Ed25519, RFC 8032).
type Key struct{ private, public string }

// NewKey makes a key for a record. origin has neither white space nor plus.
func NewKey(random io.Reader, origin string) (Key, error) {
	private, public, err := note.GenerateKey(random, origin)
	return Key{private, public}, err
}

// ParseKey reads what String wrote.
func ParseKey(text string) (Key, error) {
	private, public, ok := strings.Cut(text, " ")
	if !ok {
		return Key{}, errors.New("a key has a private and a public part")
	}
	return Key{private, public}, nil
}

// String is the key as it is kept. It holds the secret.
func (k Key) String() string { return k.private + " " + k.public }

// Origin is the record that the key signs for.
func (k Key) Origin() string {
	origin, _, _ := strings.Cut(k.public, "+")
	return origin
}

// Public is the key that others check with.
func (k Key) Public() string { return k.public }

// Sign signs a head of the key's record.
func (k Key) Sign(size int64, root tlog.Hash, at time.Time) (Signed, error) {
	signer, err := note.NewSigner(k.private)
	if err != nil {
		return Signed{}, fmt.Errorf("sign a head: %w", err)
	}
	s := Signed{Head: Head{Origin: k.Origin(), Size: size, Root: root, At: at.UTC().Truncate(time.Second)}, Key: k.public}
	text, err := note.Sign(&note.Note{Text: s.note()}, signer)
	if err != nil {
		return Signed{}, fmt.Errorf("sign a head: %w", err)
	}
	s.Text = string(text)
	return s, nil
}

// note is the head as a checkpoint, with two lines more: its time and its key.
func (s Signed) note() string {
	return fmt.Sprintf("%s\n%d\n%s\ntime %s\nkey %s\n", s.Origin, s.Size, s.Root, s.At.Format(time.RFC3339), s.Key)
}

// ReadHead reads a signed head, by the key that stands in it. Invalid:
// proof.no-head where it is none, proof.bad-signature where it was changed.
func ReadHead(text []byte) (Signed, error) {
	text = bytes.TrimLeft(bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n")), "\n\ufeff")
	text = append(bytes.TrimRight(text, "\n "), '\n')
	lines := strings.Split(string(text), "\n")
	if len(lines) < 7 {
		return Signed{}, fault.New(fault.Invalid, "proof.no-head")
	}
	s := Signed{Head: Head{Origin: lines[0]}, Text: string(text)}
	at, timed := strings.CutPrefix(lines[3], "time ")
	key, keyed := strings.CutPrefix(lines[4], "key ")
	var errs [3]error
	s.Size, errs[0] = strconv.ParseInt(lines[1], 10, 64)
	s.Root, errs[1] = tlog.ParseHash(lines[2])
	s.At, errs[2] = time.Parse(time.RFC3339, at)
	s.Key = key
	if err := errors.Join(errs[:]...); err != nil || !timed || !keyed || s.Size < 0 {
		return Signed{}, fault.Wrap(err, fault.Invalid, "proof.no-head")
	}
	verifier, err := note.NewVerifier(s.Key)
	if err != nil {
		return Signed{}, fault.Wrap(err, fault.Invalid, "proof.no-head")
	}
	opened, err := note.Open(text, note.VerifierList(verifier))
	if err != nil || opened.Text != s.note() || verifier.Name() != s.Origin {
		return Signed{}, fault.Wrap(err, fault.Invalid, "proof.bad-signature")
	}
	return s, nil
}

// Answer is what a kept head shows of a record.
type Answer string

// The answers. Fits is the only good one.
const (
	Fits     Answer = "fits"      // the record begins with the entries the head was made of
	Differs  Answer = "differs"   // it does not
	Shorter  Answer = "shorter"   // it has fewer entries than the head was made of
	Other    Answer = "other"     // the head is of another record
	OtherKey Answer = "other-key" // the record signs with another key than the head's
)

// Word is the key of the catalogue.
func (a Answer) Word() string { return "proof." + string(a) }

// Against holds a kept head against a record: its public key (empty where it
// has none yet), its size, and whether it begins with the head's entries.
func (s Signed) Against(public string, size int64, begins bool) Answer {
	origin, _, _ := strings.Cut(public, "+")
	switch {
	case public != "" && origin != s.Origin:
		return Other
	case public != "" && public != s.Key:
		return OtherKey
	case size < s.Size:
		return Shorter
	case !begins:
		return Differs
	}
	return Fits
}
