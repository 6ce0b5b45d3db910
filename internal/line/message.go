package line

// Message is a key of the catalogue with its arguments, as alternating name
// and typed value (a time.Duration, a Minute, a code, a number).
type Message struct {
	Key  string
	Args []any
}

// Say makes a message.
func Say(key string, args ...any) Message { return Message{Key: key, Args: args} }

// Numbers that a sentence writes in its reader's way.
type (
	// Share is a part of a whole, 0 to 1, written as a percentage.
	Share float64
	// Hours is a length of time by which lines are compared.
	Hours float64
	// PValue is the chance of a difference at least as large, if there were none.
	PValue float64
	// Number is any other number, written to about three figures.
	Number float64
)
