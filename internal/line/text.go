package line

import "encoding/json"

// Text is free text, or a value that can identify a patient. It is kept apart
// from the entry, which holds only a salted hash, so that it can be erased.
type Text string

type textNode struct {
	Text string `json:"text"`
}

// MarshalJSON writes {"text": …}, the node that sealing replaces by a hash.
func (t Text) MarshalJSON() ([]byte, error) { return encode(textNode{string(t)}) }

// UnmarshalJSON reads {"text": …}; a sealed node whose text was erased, or not
// given, reads as empty. A bare string is read too, for entries written by hand.
func (t *Text) UnmarshalJSON(raw []byte) error {
	if len(raw) > 0 && raw[0] == '"' {
		var s string
		if err := json.Unmarshal(raw, &s); err != nil {
			return err
		}
		*t = Text(s)
		return nil
	}
	var node struct {
		Text   string `json:"text"`
		Sealed string `json:"sealed"`
	}
	if err := json.Unmarshal(raw, &node); err != nil {
		return err
	}
	*t = Text(node.Text)
	return nil
}
