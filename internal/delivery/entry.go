package delivery

import (
	"crypto/ecdh"
	"crypto/hpke"
	"encoding/json"
	"fmt"
	"time"
)

// Entry is one form as it was typed on a device.
type Entry struct {
	ID       string    `json:"id"`       // of this delivery, made by the device: the same twice is one
	Author   string    `json:"author"`   // the account that was signed in
	Device   string    `json:"device"`   // made by the device, once
	Grant    string    `json:"grant"`    // the author's, for this device
	Granted  time.Time `json:"granted"`  // when the grant came, by the device's clock
	Captured time.Time `json:"captured"` // when it was typed, by the device's clock
	Path     string    `json:"path"`     // to which the form goes
	Form     string    `json:"form"`     // all that was typed, as a browser encodes it
}

// Seal seals an entry as a device does.
func Seal(public []byte, e Entry) ([]byte, error) {
	point, err := ecdh.P256().NewPublicKey(public)
	if err != nil {
		return nil, fmt.Errorf("seal an entry: %w", err)
	}
	to, err := hpke.NewDHKEMPublicKey(point)
	if err != nil {
		return nil, fmt.Errorf("seal an entry: %w", err)
	}
	text, err := json.Marshal(e)
	if err != nil {
		return nil, fmt.Errorf("seal an entry: %w", err)
	}
	return hpke.Seal(to, suiteKDF, suiteAEAD, []byte(Info), text)
}

// Open opens a sealed entry whose grant is its author's on its device, and
// gives the grant with it. The error is [ErrUnreadable]; whether the grant
// still counts is for the caller to ask.
func (k *Key) Open(sealed []byte) (Entry, Grant, error) {
	text, err := hpke.Open(k.private, suiteKDF, suiteAEAD, []byte(Info), sealed)
	if err != nil {
		return Entry{}, Grant{}, fmt.Errorf("%w: %w", ErrUnreadable, err)
	}
	var e Entry
	if err := json.Unmarshal(text, &e); err != nil {
		return Entry{}, Grant{}, fmt.Errorf("%w: %w", ErrUnreadable, err)
	}
	g, err := k.CheckGrant(e.Grant)
	if err != nil {
		return Entry{}, Grant{}, err
	}
	if e.ID == "" || e.Author != g.Account || e.Device != g.Device {
		return Entry{}, Grant{}, fmt.Errorf("%w: the grant is another's", ErrUnreadable)
	}
	return e, g, nil
}

// mostSkew is how far a device's clock may be off the server's before nothing
// that it says of the time is taken; a house rule.
const mostSkew = 2 * time.Minute

// Ahead is how far the device's clock stood ahead of the server's, and whether
// it was right enough for its times to be taken as they are: when the grant
// came, when the entry was sent, and in between, as far as can be told.
func (e Entry) Ahead(g Grant, sent, received time.Time) (ahead time.Duration, trusted bool) {
	ahead = sent.Sub(received)
	before := e.Granted.Sub(g.Issued)
	switch {
	case ahead.Abs() > mostSkew:
		return ahead, false
	case before.Abs() > mostSkew: // it was put right since
		return before, false
	}
	return ahead, e.Captured.Sub(sent) <= mostSkew && g.Issued.Sub(e.Captured) <= mostSkew
}
