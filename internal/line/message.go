package line

// Message is a key of the catalogue with its arguments, as alternating name
// and typed value (a time.Duration, a Minute, a code, a number).
type Message struct {
	Key  string
	Args []any
}

// Say makes a message.
func Say(key string, args ...any) Message { return Message{Key: key, Args: args} }
