package web

import (
	"encoding/json"
	"fmt"
	"time"
)

// codec writes a session's values as a small JSON object. Every request reads
// one, and the session manager's own codec costs more than the rest of it.
type codec struct{}

// written is a session as it is kept; times are Unix seconds.
type written struct {
	Deadline   time.Time `json:"deadline"`
	Account    string    `json:"account,omitempty"`
	Generation int64     `json:"generation,omitempty"`
	State      string    `json:"state,omitempty"`
	Started    int64     `json:"started,omitempty"`
	Acted      int64     `json:"acted,omitempty"`
	Greeting   bool      `json:"greeting,omitempty"`
}

// Encode refuses a value that no session has: it would be lost.
func (codec) Encode(deadline time.Time, values map[string]any) ([]byte, error) {
	w := written{Deadline: deadline}
	for key, v := range values {
		ok := false
		switch key {
		case sessionAccount:
			w.Account, ok = v.(string)
		case sessionGeneration:
			w.Generation, ok = v.(int64)
		case sessionState:
			w.State, ok = v.(string)
		case sessionStarted:
			w.Started, ok = v.(int64)
		case sessionActed:
			w.Acted, ok = v.(int64)
		case sessionGreeting:
			w.Greeting, ok = v.(bool)
		}
		if !ok {
			return nil, fmt.Errorf("a session cannot keep %q as %T", key, v)
		}
	}
	return json.Marshal(w)
}

// Decode gives what Encode wrote. What it cannot read is a session that nobody
// is signed in to.
func (codec) Decode(raw []byte) (time.Time, map[string]any, error) {
	var w written
	if err := json.Unmarshal(raw, &w); err != nil || w.Account == "" {
		return w.Deadline, map[string]any{}, nil
	}
	values := map[string]any{
		sessionAccount: w.Account, sessionGeneration: w.Generation, sessionState: w.State, sessionStarted: w.Started, sessionActed: w.Acted,
	}
	if w.Greeting {
		values[sessionGreeting] = true
	}
	return w.Deadline, values, nil
}
