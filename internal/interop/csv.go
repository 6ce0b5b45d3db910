package interop

import (
	"encoding/csv"
	"io"
	"strings"
	"unicode/utf8"
)

// formulaStarts are the characters with which a spreadsheet takes a cell for a
// formula (the list of OWASP's page on CSV injection, from memory).
const formulaStarts = "=+-@\t\r\n＝＋－＠"

func startsFormula(cell string) bool {
	first, _ := utf8.DecodeRuneInString(cell)
	return cell != "" && strings.ContainsRune(formulaStarts, first)
}

// CSVWriter writes tables that a spreadsheet shows as text: a cell that would
// be taken for a formula gets a leading apostrophe.
type CSVWriter struct{ csv *csv.Writer }

// NewCSVWriter makes a writer of comma-separated values; every table the
// program gives out goes through it.
func NewCSVWriter(w io.Writer) *CSVWriter { return &CSVWriter{csv.NewWriter(w)} }

// Write writes one row.
func (w *CSVWriter) Write(cells []string) error {
	safe := make([]string, len(cells))
	for i, cell := range cells {
		safe[i] = harmless(cell)
	}
	return w.csv.Write(safe)
}

// Flush writes out what is waiting and tells whether anything went wrong.
func (w *CSVWriter) Flush() error {
	w.csv.Flush()
	return w.csv.Error()
}

func harmless(cell string) string {
	if startsFormula(cell) {
		return "'" + cell
	}
	return cell
}

// plain takes the apostrophe off again, so that what we wrote reads as it was.
func plain(cell string) string {
	if text, marked := strings.CutPrefix(cell, "'"); marked && startsFormula(text) {
		return text
	}
	return cell
}
