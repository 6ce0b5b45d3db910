package line

import (
	"encoding/json"
	"fmt"
	"iter"
	"slices"
	"strings"
)

// Vocabulary is a closed list of words: what the list is of, and the words by
// value. Value 0 is always "not said", written as the empty word.
type Vocabulary interface {
	Words() (what string, names []string)
}

// Code is one word of a vocabulary, stored as its number. Numbers are on disk:
// words are added at the end of a list and never reordered.
type Code[V Vocabulary] uint8

// UnknownWord is the error of a word that the vocabulary lacks.
type UnknownWord struct {
	What, Word string
	Allowed    []string
}

// Error says what is allowed.
func (e *UnknownWord) Error() string {
	return fmt.Sprintf("%q is no %s; allowed: %s", e.Word, e.What, strings.Join(e.Allowed, ", "))
}

// ParseCode reads a word; the empty word is "not said".
func ParseCode[C ~uint8, V Vocabulary](s string) (C, error) {
	var v V
	what, names := v.Words()
	if i := slices.Index(names, s); i >= 0 {
		return C(i), nil
	}
	return 0, &UnknownWord{What: what, Word: s, Allowed: names[1:]}
}

// Parse reads a word into c; the error is an *UnknownWord and leaves c as it was.
func (c *Code[V]) Parse(s string) error {
	read, err := ParseCode[Code[V], V](s)
	if err == nil {
		*c = read
	}
	return err
}

// String is the word, as in files and the interface to other systems.
func (c Code[V]) String() string {
	var v V
	if _, names := v.Words(); int(c) < len(names) {
		return names[c]
	}
	return fmt.Sprintf("code-%d", uint8(c))
}

// Word is the key of the catalogue under which the word people read stands.
func (c Code[V]) Word() string {
	var v V
	what, _ := v.Words()
	if c == 0 {
		return what + ".not-said"
	}
	return what + "." + c.String()
}

// All lists the words of c's vocabulary, without "not said".
func (c Code[V]) All() []Code[V] {
	var v V
	_, names := v.Words()
	all := make([]Code[V], 0, len(names)-1)
	for i := 1; i < len(names); i++ {
		all = append(all, Code[V](i))
	}
	return all
}

// MarshalText writes the word.
func (c Code[V]) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads the word; the error is an *UnknownWord.
func (c *Code[V]) UnmarshalText(text []byte) error { return c.Parse(string(text)) }

// Set is a set of words of one vocabulary, as bits.
type Set[V Vocabulary] uint32

// SetOf makes a set.
func SetOf[V Vocabulary](codes ...Code[V]) Set[V] {
	var s Set[V]
	for _, c := range codes {
		s = s.With(c)
	}
	return s
}

// With adds a word; "not said" adds nothing.
func (s Set[V]) With(c Code[V]) Set[V] {
	if c == 0 {
		return s
	}
	return s | 1<<(c-1)
}

// Has reports whether the word is in the set.
func (s Set[V]) Has(c Code[V]) bool { return c != 0 && s&(1<<(c-1)) != 0 }

// Any reports whether one of the words is in the set.
func (s Set[V]) Any(codes ...Code[V]) bool { return s&SetOf(codes...) != 0 }

// Codes gives the words in the order of the vocabulary.
func (s Set[V]) Codes() iter.Seq[Code[V]] {
	return func(yield func(Code[V]) bool) {
		for c := Code[V](1); s>>(c-1) != 0; c++ {
			if s.Has(c) && !yield(c) {
				return
			}
		}
	}
}

// MarshalJSON writes the words as an array, in the order of the vocabulary.
func (s Set[V]) MarshalJSON() ([]byte, error) {
	return json.Marshal(append([]Code[V]{}, slices.Collect(s.Codes())...))
}

// UnmarshalJSON reads an array of words; the error of a strange one is an *UnknownWord.
func (s *Set[V]) UnmarshalJSON(text []byte) error {
	var codes []Code[V]
	if err := json.Unmarshal(text, &codes); err != nil {
		return err
	}
	*s = SetOf(codes...)
	return nil
}
