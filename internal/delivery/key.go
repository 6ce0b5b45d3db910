// Package delivery is how what was typed without network reaches the record.
//
// A device seals each entry to the server's public key, and puts into the seal
// the grant that its author was given there at sign-in. So whoever holds the
// device can hand the entry over, and nobody but the server can read it or say
// that it is another's. The package knows no clock, no database and no HTTP.
package delivery

import (
	"crypto/ecdh"
	"crypto/hkdf"
	"crypto/hpke"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
)

// The suite is hybrid public key encryption in base mode, sealed in one step
// (RFC 9180, sections 5.1.1 and 6.1), with the algorithms that every browser's
// WebCrypto can do: DHKEM(P-256, HKDF-SHA256), HKDF-SHA256, AES-128-GCM, as in
// the RFC's appendix A.3. A sealed entry is the encapsulated key, an
// uncompressed point of 65 bytes, followed by the ciphertext.
var (
	suiteKDF  = hpke.HKDFSHA256()
	suiteAEAD = hpke.AES128GCM()
)

// Info is what every seal is bound to, so that it opens as nothing else. The
// number is that of the entry's format.
const Info = "dwellbook delivery 1"

// ErrUnreadable says that a seal could not be opened, or what is in it not
// be told to be its author's.
var ErrUnreadable = errors.New("the sealed entry cannot be read")

// Key is the server's: it opens what was sealed and signs grants.
type Key struct {
	text    string
	private hpke.PrivateKey
	public  []byte
	signing []byte
}

// NewKey makes a key.
func NewKey() (*Key, error) {
	private, err := ecdh.P256().GenerateKey(rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("make the delivery key: %w", err)
	}
	return ParseKey(base64.StdEncoding.EncodeToString(private.Bytes()))
}

// ParseKey reads a key as [Key.Secret] wrote it.
func ParseKey(text string) (*Key, error) {
	raw, err := base64.StdEncoding.DecodeString(text)
	if err != nil {
		return nil, fmt.Errorf("read the delivery key: %w", err)
	}
	private, err := ecdh.P256().NewPrivateKey(raw)
	if err != nil {
		return nil, fmt.Errorf("read the delivery key: %w", err)
	}
	opening, err := hpke.NewDHKEMPrivateKey(private)
	if err != nil {
		return nil, fmt.Errorf("read the delivery key: %w", err)
	}
	// One secret is kept; the two uses have keys of their own (RFC 5869).
	signing, err := hkdf.Key(sha256.New, raw, nil, "dwellbook delivery grants", sha256.Size)
	if err != nil {
		return nil, fmt.Errorf("derive the key of grants: %w", err)
	}
	return &Key{text: text, private: opening, public: private.PublicKey().Bytes(), signing: signing}, nil
}

// Secret is the key as text, for whoever keeps it.
func (k *Key) Secret() string { return k.text }

// Public is the point that entries are sealed to, uncompressed: 65 bytes.
func (k *Key) Public() []byte { return k.public }
