package view

import (
	"fmt"
	"strings"

	qr "github.com/piglig/go-qr"
)

// QR is a QR code (ISO/IEC 18004) to be drawn one unit to a module.
type QR struct {
	Side int    // in modules, the quiet zone on both sides included
	Dark string // the dark modules, as an SVG path
}

// quietZone is the margin that the standard asks for, in modules.
const quietZone = 4

// NewQR encodes a text so that a quarter of the code may be lost: a label is
// handled, wiped and creased. Fails where the text is too long for any code.
func NewQR(text string) (QR, error) {
	code, err := qr.EncodeText(text, qr.Quartile)
	if err != nil {
		return QR{}, fmt.Errorf("encode %d bytes: %w", len(text), err)
	}
	n := code.Size()
	var dark strings.Builder
	for y := range n {
		for x := 0; x < n; x++ {
			from := x
			for x < n && code.Module(x, y) {
				x++
			}
			if x > from {
				fmt.Fprintf(&dark, "M%d %dh%dv1h-%dz", from+quietZone, y+quietZone, x-from, x-from)
			}
		}
	}
	return QR{Side: n + 2*quietZone, Dark: dark.String()}, nil
}

func (q QR) viewBox() string { return fmt.Sprintf("0 0 %d %d", q.Side, q.Side) }
