package interop

import (
	"bytes"
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
	reader    *sheetReader
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
	Text     []string // as in the file; nil of a table of episodes
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
	}
	in, err := openTable(bytes.NewReader(text), o.Mapping.delimiter)
	if err != nil {
		return Sheet{}, err
	}
	header, err := in.heading()
	if err != nil {
		return Sheet{}, err
	}
	laid, err := layoutOf(header, &o.Mapping, reasonColumn, lineIDColumn, wardColumn, siteColumn)
	if err != nil {
		return Sheet{}, err
	}
	s := newSheetReader(o, laid)
	rows, err := s.rows(in)
	if err != nil {
		return Sheet{}, err
	}
	sheet := Sheet{Header: header, Unread: laid.unread, delimiter: in.csv.Comma, reader: s, patients: map[line.ID][]Row{}}
	s.finish(rows, &sheet)
	return sheet, nil
}

func (s *sheetReader) rows(in *table) ([]*row, error) {
	var rows []*row
	for {
		number, record, err := in.next()
		switch {
		case errors.Is(err, io.EOF):
			return rows, nil
		case err != nil:
			return nil, err
		}
		rows = append(rows, s.row(number, record))
	}
}

// finish sorts the rows into good and bad and makes the entries.
func (s *sheetReader) finish(rows []*row, sheet *Sheet) {
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
func (s *sheetReader) sort(rows []*row, moves map[*row]rowMoves, sheet *Sheet) {
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
		same := func(o *row) bool { return *o.cells == *r.cells }
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
			r.problems = append(r.problems, repeated(r.lineID, others))
		}
	}
	return kept
}
