package delivery

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// Grant lets what its account typed on its device be delivered, and nothing
// else. It outlives the session in which it was given.
type Grant struct {
	Account string    `json:"account"`
	Device  string    `json:"device"`
	Issued  time.Time `json:"issued"`
	Mark    string    `json:"mark"` // of the passphrase it was given for
}

// lasts is how long a grant counts: a tablet that was put away over a long
// weekend still hands over by itself what is on it. A house rule.
const lasts = 7 * 24 * time.Hour

// GrantFor makes a grant of the account on the device; secret is the stored
// form of its passphrase.
func GrantFor(account, device, secret string, issued time.Time) Grant {
	return Grant{Account: account, Device: device, Issued: issued, Mark: markOf(secret)}
}

// Counts reports whether the grant still counts: not after its time, and not
// once the passphrase is another.
func (g Grant) Counts(secret string, now time.Time) bool {
	return g.Mark == markOf(secret) && now.Sub(g.Issued) <= lasts
}

// markOf tells one stored passphrase from another; it does not give it away.
func markOf(secret string) string {
	sum := sha256.Sum256([]byte("dwellbook grant\x00" + secret))
	return base64.RawURLEncoding.EncodeToString(sum[:9])
}

// Sign gives the grant as a token: its JSON and the HMAC-SHA256 (RFC 2104) of
// that, each in base64url.
func (k *Key) Sign(g Grant) (string, error) {
	text, err := json.Marshal(g)
	if err != nil {
		return "", fmt.Errorf("sign a grant: %w", err)
	}
	body := base64.RawURLEncoding.EncodeToString(text)
	return body + "." + base64.RawURLEncoding.EncodeToString(k.mac(body)), nil
}

func (k *Key) mac(body string) []byte {
	h := hmac.New(sha256.New, k.signing)
	h.Write([]byte(body))
	return h.Sum(nil)
}

// CheckGrant reads a token that this key signed. The error is [ErrUnreadable].
func (k *Key) CheckGrant(token string) (Grant, error) {
	body, tag, _ := strings.Cut(token, ".")
	sum, err := base64.RawURLEncoding.DecodeString(tag)
	if err != nil || !hmac.Equal(sum, k.mac(body)) {
		return Grant{}, fmt.Errorf("%w: no grant of this server", ErrUnreadable)
	}
	text, err := base64.RawURLEncoding.DecodeString(body)
	if err != nil {
		return Grant{}, fmt.Errorf("%w: %w", ErrUnreadable, err)
	}
	var g Grant
	if err := json.Unmarshal(text, &g); err != nil {
		return Grant{}, fmt.Errorf("%w: %w", ErrUnreadable, err)
	}
	return g, nil
}
