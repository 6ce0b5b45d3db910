package account

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha1" //nolint:gosec // RFC 6238's default, and what authenticator programs speak
	"crypto/subtle"
	"encoding/base32"
	"encoding/binary"
	"fmt"
	"net/url"
	"time"
)

// CodeKey is what a person's device and the server share, to make codes from.
type CodeKey []byte

const (
	codeKeySize = 20 // bytes: as long as SHA-1's result (RFC 4226, section 4)
	codeDigits  = 6
	codeLasts   = 30 * time.Second // RFC 6238, section 5.2
	codeDrift   = 1                // steps by which the two clocks may differ
)

// NewCodeKey makes a key.
func NewCodeKey() CodeKey {
	k := make(CodeKey, codeKeySize)
	_, _ = rand.Read(k) // never fails: crypto/rand
	return k
}

// CodeStep is the time step of a moment (RFC 6238, section 4.2).
func CodeStep(at time.Time) int64 { return at.Unix() / int64(codeLasts/time.Second) }

// Code is the code of a time step: HOTP (RFC 4226, section 5.3) of its number.
func (k CodeKey) Code(step int64) string {
	mac := hmac.New(sha1.New, k)
	mac.Write(binary.BigEndian.AppendUint64(nil, uint64(step))) //nolint:gosec // a step since 1970 is not negative
	sum := mac.Sum(nil)
	from := sum[len(sum)-1] & 0xf
	n := binary.BigEndian.Uint32(sum[from:]) & 0x7fffffff
	return fmt.Sprintf("%0*d", codeDigits, n%1_000_000)
}

// Match finds the step whose code this is: about now, and later than the last
// that was used, so that no code counts twice (RFC 6238, section 5.2).
func (k CodeKey) Match(code string, now time.Time, used int64) (step int64, ok bool) {
	at := CodeStep(now)
	for s := max(at-codeDrift, used+1); s <= at+codeDrift; s++ {
		if subtle.ConstantTimeCompare([]byte(code), []byte(k.Code(s))) == 1 {
			return s, true
		}
	}
	return 0, false
}

// String is the key as it is typed into a device: base32, without padding.
func (k CodeKey) String() string {
	return base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(k)
}

// URI is what a device reads from the drawn code (the otpauth form, which has
// no standard; as the common programs document it, from memory).
func (k CodeKey) URI(issuer, signIn string) string {
	q := url.Values{"secret": {k.String()}, "issuer": {issuer}}
	return "otpauth://totp/" + url.PathEscape(issuer+":"+signIn) + "?" + q.Encode()
}

// StepRule says of whom the hospital wants a second step.
type StepRule string

// The rules. Leads and administrators see the whole hospital or give out
// accounts; for others the second step is their own choice.
const (
	StepAsked    StepRule = "asked"    // leads and administrators are asked at sign-in, and may put it off
	StepRequired StepRule = "required" // they get no further without
	StepOptional StepRule = "optional" // nobody is asked
)

// StepRules lists the rules; the first holds where nothing was set.
var StepRules = []StepRule{StepAsked, StepRequired, StepOptional}

// Applies reports whether the rule asks a second step of the role.
func (s StepRule) Applies(r Role) bool {
	return s != StepOptional && (r == Lead || r == Administrator)
}

// SecondStep is a person's second step as it is kept.
type SecondStep struct {
	Key       CodeKey
	Confirmed bool  // the person has shown a code
	Used      int64 // the step of the last code used
}

// recoveryCodes is how many a person is given.
const recoveryCodes = 10

// NewRecoveryCodes makes codes of 50 random bits each, in two groups.
func NewRecoveryCodes() []string {
	codes := make([]string, recoveryCodes)
	for i := range codes {
		text := rand.Text()
		codes[i] = text[:5] + "-" + text[5:10]
	}
	return codes
}
