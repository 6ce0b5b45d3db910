// Package fault is the project's short vocabulary of what can go wrong. An error
// carries a kind, on which callers decide, and a message key with its
// arguments, from which the catalogue makes the sentence a person reads.
// Any other error is Internal by definition, and its text reaches no screen.
package fault

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Kind says what a caller may decide on.
type Kind uint8

// The kinds of error. Internal is the zero value: an error nobody classified.
const (
	Internal        Kind = iota // our own failing
	Invalid                     // what was typed cannot be true or cannot be read
	Unauthenticated             // nobody is signed in
	Forbidden                   // this person may not do or see it
	NotFound                    // no such thing, or none this person may know of
	Conflict                    // it contradicts what has been recorded meanwhile
	TooLarge                    // more than is taken at once
	Busy                        // try again in a moment
	Expired                     // the session ended; what was typed is kept
)

var kindNames = [...]string{"internal", "invalid", "unauthenticated", "forbidden", "not-found", "conflict", "too-large", "busy", "expired"}

// Kinds lists every kind, for tests that walk them all.
func Kinds() []Kind {
	all := make([]Kind, len(kindNames))
	for i := range all {
		all[i] = Kind(i)
	}
	return all
}

// String is the kind's name in logs.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return "internal"
}

// Error is a classified error. Key and Args name a sentence of the catalogue;
// Fields holds one more for each form field that is wrong.
type Error struct {
	Kind   Kind
	Key    string
	Args   []any // alternating name and value
	Fields Fields
	Err    error // the cause, for the log only
}

// Message is a catalogue key with its arguments, as alternating name and value.
type Message struct {
	Key  string
	Args []any
}

// Fields holds the messages of the form fields that are wrong, by field name.
type Fields map[string]Message

// New makes an error of a kind with a catalogue key and alternating names and values.
func New(kind Kind, key string, args ...any) *Error {
	return &Error{Kind: kind, Key: key, Args: args}
}

// Wrap classifies a cause.
func Wrap(err error, kind Kind, key string, args ...any) *Error {
	return &Error{Kind: kind, Key: key, Args: args, Err: err}
}

// Field makes an Invalid error about one form field.
func Field(name, key string, args ...any) *Error {
	return &Error{Kind: Invalid, Key: "fault.fields", Fields: Fields{name: {Key: key, Args: args}}}
}

// Class is what a log may hold of an error that a person met with: kind, key
// and the names of fields, but nothing of what was typed.
func (e *Error) Class() string {
	text := e.Kind.String() + ": " + e.Key
	for _, name := range slices.Sorted(maps.Keys(e.Fields)) {
		text += " [" + name + ": " + e.Fields[name].Key + "]"
	}
	return text
}

// Error is the whole text: kind, key, arguments, fields and cause.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.Kind.String() + ": " + e.Key)
	for i := 0; i+1 < len(e.Args); i += 2 {
		fmt.Fprintf(&b, " %v=%v", e.Args[i], e.Args[i+1])
	}
	for _, name := range slices.Sorted(maps.Keys(e.Fields)) {
		fmt.Fprintf(&b, " [%s: %s %v]", name, e.Fields[name].Key, e.Fields[name].Args)
	}
	if e.Err != nil {
		b.WriteString(": " + e.Err.Error())
	}
	return b.String()
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// KindOf is the kind of the first classified error in the chain, else Internal.
func KindOf(err error) Kind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return Internal
}

// Is reports whether err is of the kind.
func Is(err error, kind Kind) bool { return err != nil && KindOf(err) == kind }
