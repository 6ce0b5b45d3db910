package desk

import (
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"encoding/base64"
	"encoding/binary"
	"fmt"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// Label is what stays beside a line on paper. Nothing on it is of the patient.
type Label struct {
	Ward     Ward
	Line     line.Current
	Dressed  line.Minute    // when the dressing on it now was put on
	Known    line.Precision // how well that is known
	Operator string         // initials of the account that placed it, or as written; empty: not recorded
	PlacedBy line.PlacedBy
	Code     string // opens the line: see LineOfLabel
}

// Label is for a line that is in. Conflict: label.not-in.
func (d *Desk) Label(ctx context.Context, who Person, id line.ID) (*Label, error) {
	if err := who.require(account.RecordCare); err != nil {
		return nil, err
	}
	page, err := d.Line(ctx, who, id)
	if err != nil {
		return nil, err
	}
	if page.History == nil || page.History.Removal != nil {
		return nil, fault.New(fault.Conflict, "label.not-in")
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	block, err := d.labelCipher(ctx)
	if err != nil {
		return nil, err
	}
	l := &Label{Ward: page.Ward, Line: page.Line, Dressed: page.Line.Placed, Known: page.Line.Precision, Code: sealLine(block, page.Line.Key)}
	if n := len(page.History.Dressings); n > 0 {
		last := page.History.Dressings[n-1]
		l.Dressed, l.Known = last.At, last.Precision
	}
	if placed, ok := page.Occasion.Body.(line.Occasion); ok {
		l.Operator, l.PlacedBy = h.initials(inserter(placed)), placed.PlacedBy
	}
	return l, nil
}

// inserter is who held the cannula that went in.
func inserter(o line.Occasion) line.Operator {
	for _, a := range o.Attempts {
		if !a.Failed && a.Operator != (line.Operator{}) {
			return a.Operator
		}
	}
	return o.Operator
}

// initials are an operator's as an account has them, else what was written.
func (h *House) initials(o line.Operator) string {
	p, ok := h.People[o.Account]
	switch {
	case ok && p.Initials != "":
		return p.Initials
	case ok:
		return p.Name
	}
	return string(o.Written)
}

// LineOfLabel gives the line that a label's code opens. NotFound: label.unknown.
func (d *Desk) LineOfLabel(ctx context.Context, who Person, code string) (line.Current, error) {
	if err := who.require(account.RecordCare); err != nil {
		return line.Current{}, err
	}
	block, err := d.labelCipher(ctx)
	if err != nil {
		return line.Current{}, err
	}
	if key, ok := openLine(block, code); ok {
		lines, err := d.store.LinesByKey(ctx, []line.Key{key})
		if err != nil {
			return line.Current{}, err
		}
		if l, ok := lines[key]; ok {
			return l, nil
		}
	}
	return line.Current{}, fault.New(fault.NotFound, "label.unknown")
}

// A label's code is the number by which this record knows the line, as one
// block of AES-256 under a key that only this record has (FIPS 197). A block
// cipher permutes its blocks: a line has one code for good, no two lines share
// one, and without the key a code tells nothing, not even which of two lines
// is the older. Half of the block is zeros, so that a made-up code opens a line
// once in 2^64.
const labelKeySetting = "label-key"

var labelForm = base64.RawURLEncoding.Strict()

func (d *Desk) labelCipher(ctx context.Context) (cipher.Block, error) {
	fresh := make([]byte, 32)
	_, _ = rand.Read(fresh) // never fails
	kept, err := d.store.SettingOr(ctx, labelKeySetting, labelForm.EncodeToString(fresh))
	if err != nil {
		return nil, fmt.Errorf("key of the labels: %w", err)
	}
	key, err := labelForm.DecodeString(kept)
	if err != nil {
		return nil, fmt.Errorf("key of the labels: %w", err)
	}
	return aes.NewCipher(key)
}

func sealLine(c cipher.Block, l line.Key) string {
	var b [aes.BlockSize]byte
	binary.BigEndian.PutUint64(b[8:], uint64(l))
	c.Encrypt(b[:], b[:])
	return labelForm.EncodeToString(b[:])
}

func openLine(c cipher.Block, code string) (line.Key, bool) {
	b, err := labelForm.DecodeString(code)
	if err != nil || len(b) != aes.BlockSize {
		return 0, false
	}
	c.Decrypt(b, b)
	return line.Key(binary.BigEndian.Uint64(b[8:])), binary.BigEndian.Uint64(b) == 0
}
