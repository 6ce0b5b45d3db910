package interop

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// LargestSheet is the size in bytes above which a sheet is not read: a
// spreadsheet of a million rows, with room.
const LargestSheet = 256 << 20

// House is what a sheet needs to know of the hospital.
type House interface {
	// Ward finds a ward by its name, as the staff write it.
	Ward(name string) (id line.ID, zone *time.Location, ok bool)
	// Reference reports whether the text fits the hospital's pattern of patient references.
	Reference(text string) bool
}

// SheetOptions says what a sheet cannot say of itself.
type SheetOptions struct {
	Source  string // names where the sheets come from, the same each month; part of every id
	Mapping Mapping
	House   House
	Author  line.ID   // the account that imports
	Now     time.Time // the record's clock: what lies after it is in the future
	AsOf    time.Time // the moment the sheet tells of; zero: Now
}

// Sheet is what was read.
type Sheet struct {
	Rows      []Row
	Bad       []BadRow
	Header    []string // as in the file
	Unread    []string // headings that are no column of ours: nothing of them is kept
	Repeated  []int    // line numbers of rows that repeat another to the letter
	delimiter rune
	reader    *reader
	patients  map[line.ID][]Row
}

// Row is a row that can be imported. Its entries belong together; those of one
// patient also need the first row's, where the admission is.
type Row struct {
	Number    int // line in the file, from 1
	LineID    string
	Subject   line.ID
	FirstSeen string // where inserted_at is blank: the column the first-seen moment is from, or AsOf
	Entries   []line.Entry
	Text      []string // as in the file
	from      *row
}

// BadRow is a row that cannot be imported, with everything that is wrong in it.
type BadRow struct {
	Number   int // line in the file, from 1
	Problems []Problem
	Text     []string // as in the file
}

// ReadSheet reads an audit sheet: one row a line. What is wrong in a row stands
// in Sheet.Bad; an error is about the sheet as a whole (*fault.Error), or from r.
func ReadSheet(r io.Reader, o SheetOptions) (Sheet, error) {
	if strings.TrimSpace(o.Source) == "" || strings.ContainsRune(o.Source, 0) {
		return Sheet{}, fault.New(fault.Invalid, "interop.source")
	}
	if o.AsOf.IsZero() {
		o.AsOf = o.Now
	}
	if o.Mapping.patterns == nil {
		o.Mapping = DefaultMapping()
	}
	if o.AsOf.After(o.Now) {
		return Sheet{}, fault.New(fault.Invalid, "interop.as-of", "as_of", o.AsOf, "now", o.Now)
	}
	text, err := io.ReadAll(io.LimitReader(r, LargestSheet+1))
	switch {
	case err != nil:
		return Sheet{}, fmt.Errorf("read the sheet: %w", err)
	case len(text) > LargestSheet:
		return Sheet{}, fault.New(fault.TooLarge, "interop.sheet-large", "n", LargestSheet>>20)
	case bytes.HasPrefix(text, []byte("\xff\xfe")) || bytes.HasPrefix(text, []byte("\xfe\xff")):
		return Sheet{}, fault.New(fault.Invalid, "interop.sheet-encoding")
	}
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	s := &reader{SheetOptions: o, ids: identity(o.Source)}
	sheet := Sheet{delimiter: o.Mapping.delimiter, reader: s, patients: map[line.ID][]Row{}}
	if sheet.delimiter == 0 {
		sheet.delimiter = delimiterOf(text)
	}
	rows, err := s.rows(text, &sheet)
	if err != nil {
		return Sheet{}, err
	}
	s.finish(rows, &sheet)
	return sheet, nil
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

func (s *reader) rows(text []byte, sheet *Sheet) ([]*row, error) {
	in := csv.NewReader(bytes.NewReader(text))
	in.Comma, in.FieldsPerRecord = sheet.delimiter, -1
	var rows []*row
	for {
		record, err := in.Read()
		var quotes *csv.ParseError
		switch {
		case errors.Is(err, io.EOF):
			if sheet.Header == nil {
				return nil, fault.New(fault.Invalid, "interop.sheet-empty")
			}
			return rows, nil
		case errors.As(err, &quotes):
			// After a quote out of place nobody can tell where a row ends.
			return nil, fault.Wrap(err, fault.Invalid, "interop.sheet-quotes", "line", quotes.StartLine)
		case err != nil:
			return nil, fmt.Errorf("read the sheet: %w", err)
		case strings.TrimSpace(strings.Join(record, "")) == "":
			continue
		}
		number, _ := in.FieldPos(0)
		if sheet.Header == nil {
			sheet.Header = record
			if err := s.header(record, sheet); err != nil {
				return nil, err
			}
			continue
		}
		rows = append(rows, s.read(number, record))
	}
}

// header finds each column; line_id, ward and site must be there.
func (s *reader) header(record []string, sheet *Sheet) error {
	at := map[string]int{}
	for i, heading := range record {
		name := folded(plain(strings.TrimSpace(heading)))
		if _, twice := at[name]; twice && name != "" {
			at[name] = -1
			continue
		}
		at[name] = i
	}
	s.columns, s.width = map[string][]int{}, len(record)
	used := map[int]bool{}
	var missing []string
	for _, column := range Columns {
		wanted, mapped := s.Mapping.columns[column]
		if !mapped {
			wanted = column
		}
		places, twice := placesOf(wanted, at)
		switch {
		case twice:
			return fault.New(fault.Invalid, "interop.sheet-heading-twice", "heading", wanted)
		case places == nil && (mapped || column == "line_id" || column == "ward" || column == "site"):
			missing = append(missing, wanted)
		case places != nil:
			s.columns[column] = places
		}
		for _, i := range places {
			used[i] = true
		}
	}
	if missing != nil {
		return fault.New(fault.Invalid, "interop.sheet-columns", "missing", strings.Join(missing, ", "), "found", strings.Join(record, ", "))
	}
	for i, heading := range record {
		if name := strings.TrimSpace(heading); !used[i] && name != "" && folded(name) != problemColumn {
			sheet.Unread = append(sheet.Unread, name)
		}
	}
	return nil
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

// finish sorts the rows into good and bad and makes the entries.
func (s *reader) finish(rows []*row, sheet *Sheet) {
	rows = once(rows, sheet)
	var good []*row
	for _, r := range rows {
		if len(r.problems) == 0 {
			good = append(good, r)
		}
	}
	s.sort(rows, s.moves(good), sheet)
	for _, r := range sheet.Rows {
		sheet.patients[r.Subject] = append(sheet.patients[r.Subject], r)
	}
}

// sort makes the entries of the good rows and puts each row where it belongs.
func (s *reader) sort(rows []*row, moves map[*row]rowMoves, sheet *Sheet) {
	for _, r := range rows {
		var entries []line.Entry
		if len(r.problems) == 0 {
			entries = s.entries(r, moves[r])
			for _, e := range entries {
				for _, p := range line.Check(e, line.MinuteOf(s.Now)) {
					r.problems = append(r.problems, Problem{p.Field, p.Message, line.Say("interop.allow.check")})
				}
			}
		}
		r.cells = nil // read; a large sheet has many
		if len(r.problems) > 0 {
			sheet.Bad = append(sheet.Bad, BadRow{r.number, r.problems, r.text})
			continue
		}
		sheet.Rows = append(sheet.Rows, Row{r.number, r.lineID, r.subject, r.firstSeen, entries, r.text, r})
	}
}

// Of are the patient's rows that can be imported.
func (s *Sheet) Of(patient line.ID) []Row { return s.patients[patient] }

// Leave takes a row out of what can be imported, because the record cannot
// take it. The patient's other rows tell then by themselves where the patient
// was: an admission that stood in the row stands in the next one.
func (s *Sheet) Leave(left Row) {
	var rest []*row
	for _, r := range s.patients[left.Subject] {
		if r.Number != left.Number {
			rest = append(rest, r.from)
		}
	}
	remade := Sheet{}
	s.reader.sort(rest, s.reader.moves(rest), &remade)
	s.patients[left.Subject] = remade.Rows
	s.Bad = append(s.Bad, remade.Bad...)
}

// once counts rows that repeat another to the letter once. Rows that give one
// line_id two contents are all bad: nobody but the ward can say which holds.
func once(rows []*row, sheet *Sheet) []*row {
	byLine := map[string][]*row{}
	var kept []*row
	for _, r := range rows {
		same := func(o *row) bool { return fmt.Sprint(o.cells) == fmt.Sprint(r.cells) }
		if r.lineID != "" && slices.ContainsFunc(byLine[r.lineID], same) {
			sheet.Repeated = append(sheet.Repeated, r.number)
			continue
		}
		byLine[r.lineID] = append(byLine[r.lineID], r)
		kept = append(kept, r)
	}
	for _, r := range kept {
		if r.lineID == "" {
			continue
		}
		var others []string
		for _, o := range byLine[r.lineID] {
			if o != r {
				others = append(others, fmt.Sprint(o.number))
			}
		}
		if others != nil {
			r.bad("line_id", "interop.repeated", "interop.allow.repeated", "word", r.lineID, "lines", strings.Join(others, ", "))
		}
	}
	return kept
}
