package interop

import (
	"io"
	"strings"

	"dwellbook/internal/line"
)

// problemColumn is the column WriteBad adds. ReadSheet does not read it.
const problemColumn = "problem"

// WriteBad writes the bad rows as they came, under the sheet's own headings,
// with what is wrong in a last column: a sheet that can be mended and imported
// with the same mapping. say puts a message into words.
func WriteBad(w io.Writer, s Sheet, say func(line.Message) string) error {
	out := NewCSVWriter(w)
	out.csv.Comma = s.delimiter
	keep := make([]bool, len(s.Header))
	for i, heading := range s.Header {
		keep[i] = folded(heading) != problemColumn
	}
	write := func(cells []string, last string) error {
		row := make([]string, 0, len(cells)+1)
		for i := range s.Header {
			switch {
			case !keep[i]:
			case i < len(cells):
				row = append(row, cells[i])
			default:
				row = append(row, "")
			}
		}
		row = append(row, last)
		if len(cells) > len(s.Header) { // what had no heading stays in sight
			row = append(row, cells[len(s.Header):]...)
		}
		return out.Write(row)
	}
	if err := write(s.Header, problemColumn); err != nil {
		return err
	}
	for _, bad := range s.Bad {
		if err := write(bad.Text, bad.say(say)); err != nil {
			return err
		}
	}
	return out.Flush()
}

// say is everything that is wrong with the row, in one cell.
func (b BadRow) say(say func(line.Message) string) string {
	var all []string
	for _, p := range b.Problems {
		text := say(p.What) + " (" + say(p.Allowed) + ")"
		if p.Column != "" {
			text = p.Column + ": " + text
		}
		all = append(all, text)
	}
	return strings.Join(all, "; ")
}
