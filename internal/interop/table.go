package interop

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"dwellbook/internal/fault"
)

// longestHeading is as much of the heading row, in bytes, as the delimiter is seen from.
const longestHeading = 64 << 10

// table gives the rows of a CSV file that are not blank.
type table struct{ csv *csv.Reader }

// openTable sees how the file is written; delimiter 0 is seen from the heading row.
func openTable(r io.Reader, delimiter rune) (*table, error) {
	in := bufio.NewReaderSize(r, longestHeading)
	start, err := in.Peek(longestHeading)
	switch {
	case err != nil && !errors.Is(err, io.EOF):
		return nil, fmt.Errorf("read the sheet: %w", err)
	case bytes.HasPrefix(start, []byte("\xff\xfe")) || bytes.HasPrefix(start, []byte("\xfe\xff")):
		return nil, fault.New(fault.Invalid, "interop.sheet-encoding")
	}
	if mark := []byte("\ufeff"); bytes.HasPrefix(start, mark) {
		start = start[len(mark):]
		if _, err := in.Discard(len(mark)); err != nil {
			return nil, fmt.Errorf("read the sheet: %w", err)
		}
	}
	t := &table{csv.NewReader(in)}
	t.csv.FieldsPerRecord = -1
	if t.csv.Comma = delimiter; delimiter == 0 {
		t.csv.Comma = delimiterOf(start)
	}
	return t, nil
}

// delimiterOf sees the delimiter from the first line: the one that stands in it most often.
func delimiterOf(text []byte) rune {
	first, _, _ := bytes.Cut(text, []byte("\n"))
	best, most := ',', bytes.Count(first, []byte(","))
	for _, d := range ";\t|" {
		if n := bytes.Count(first, []byte(string(d))); n > most {
			best, most = d, n
		}
	}
	return best
}

// next is the next row that is not blank, and its line in the file, from 1;
// io.EOF after the last.
func (t *table) next() (number int, record []string, err error) {
	for {
		record, err := t.csv.Read()
		var quotes *csv.ParseError
		switch {
		case errors.Is(err, io.EOF):
			return 0, nil, io.EOF
		case errors.As(err, &quotes):
			// After a quote out of place nobody can tell where a row ends.
			return 0, nil, fault.Wrap(err, fault.Invalid, "interop.sheet-quotes", "line", quotes.StartLine)
		case err != nil:
			return 0, nil, fmt.Errorf("read the sheet: %w", err)
		case !blank(record):
			number, _ := t.csv.FieldPos(0)
			return number, record, nil
		}
	}
}

// heading is the first row.
func (t *table) heading() ([]string, error) {
	_, record, err := t.next()
	if errors.Is(err, io.EOF) {
		return nil, fault.New(fault.Invalid, "interop.sheet-empty")
	}
	return record, err
}

func blank(record []string) bool {
	return !slices.ContainsFunc(record, func(cell string) bool { return strings.TrimSpace(cell) != "" })
}

// layout says where in a row each column stands.
type layout struct {
	places [columnCount][]int // of the parts of its cell; nil: the table has no such column
	width  int                // of the heading row
	unread []string           // headings that are no column of ours
}

// layoutOf finds the columns that a kind of table may have, up to last, in its
// heading row. Those needed, and those the mapping names, must be there.
func layoutOf(heading []string, m *Mapping, last column, needed ...column) (layout, error) {
	at := map[string]int{}
	for i, cell := range heading {
		name := folded(plain(strings.TrimSpace(cell)))
		if _, twice := at[name]; twice && name != "" {
			at[name] = -1
			continue
		}
		at[name] = i
	}
	l := layout{width: len(heading)}
	used := map[int]bool{}
	var missing []string
	for c := lineIDColumn; c <= last; c++ {
		wanted, mapped := m.columns[c.String()]
		if !mapped {
			wanted = c.String()
		}
		places, twice := placesOf(wanted, at)
		switch {
		case twice:
			return layout{}, fault.New(fault.Invalid, "interop.sheet-heading-twice", "heading", wanted)
		case places == nil && (mapped || slices.Contains(needed, c)):
			missing = append(missing, wanted)
		}
		l.places[c] = places
		for _, i := range places {
			used[i] = true
		}
	}
	if missing != nil {
		return layout{}, fault.New(fault.Invalid, "interop.sheet-columns", "missing", strings.Join(missing, ", "), "found", strings.Join(heading, ", "))
	}
	for i, cell := range heading {
		if name := strings.TrimSpace(cell); !used[i] && name != "" && folded(name) != problemColumn {
			l.unread = append(l.unread, name)
		}
	}
	return l, nil
}

// placesOf finds a heading, or the headings joined by " + " that make one cell.
func placesOf(wanted string, at map[string]int) (places []int, twice bool) {
	if i, ok := at[folded(wanted)]; ok {
		return []int{i}, i < 0
	}
	for _, part := range strings.Split(wanted, " + ") {
		i, ok := at[folded(strings.TrimSpace(part))]
		if !ok {
			return nil, false
		}
		twice = twice || i < 0
		places = append(places, i)
	}
	return places, twice
}
