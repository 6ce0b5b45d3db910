package view

import (
	"context"
	"fmt"
	"math"
	"unicode"
	"unicode/utf8"

	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/chart"
)

// ChartFigure is a chart with what can be read from it and its numbers.
type ChartFigure struct {
	Name    string      // in addresses and file names
	Title   string      // states what it shows
	Chart   chart.Chart // nil: there is nothing to draw
	Reading []line.Message
	Numbers Numbers
	Links   []NavItem // the same as files
}

// Numbers is the table behind a chart: a cell is a text, a whole number, or a
// number as a sentence takes it.
type Numbers struct {
	Caption string
	Head    []string
	Rows    [][]any
}

// about names the drawing, which as a file stands alone: with the time it is of.
func (f ChartFigure) about(ctx context.Context, when string) chart.About {
	return chart.About{ID: "chart-" + f.Name, Title: words.Say(ctx, "outcomespage.titled", "title", f.Title, "when", when), Desc: f.reads(ctx)}
}

// reads says the reading as one text.
func (f ChartFigure) reads(ctx context.Context) string { return tellAll(ctx, f.Reading) }

func tellAll(ctx context.Context, all []line.Message) string {
	text := ""
	for _, m := range all {
		if text != "" {
			text += " "
		}
		text += capital(words.Tell(ctx, m))
	}
	return text
}

// table is the numbers for people.
func (n Numbers) table(ctx context.Context) TableData {
	t := TableData{Caption: n.Caption}
	for i, head := range n.Head {
		t.Columns = append(t.Columns, Column{Label: head, Num: i > 0})
	}
	for _, row := range n.Rows {
		var cells []Cell
		for _, c := range row {
			cells = append(cells, Cell{Text: words.Number(ctx, c)})
		}
		t.Rows = append(t.Rows, TableRow{Cells: cells})
	}
	return t
}

// float is the number in a cell, if it is one that may have none.
func float(c any) (float64, bool) {
	switch v := c.(type) {
	case line.Share:
		return float64(v), true
	case line.Hours:
		return float64(v), true
	case line.PValue:
		return float64(v), true
	case line.Number:
		return float64(v), true
	}
	return 0, false
}

// Sheet is the numbers for a spreadsheet: in full, empty where there is none.
func (n Numbers) Sheet() [][]string {
	rows := [][]string{n.Head}
	for _, row := range n.Rows {
		var cells []string
		for _, c := range row {
			v, ok := float(c)
			switch {
			case !ok:
				cells = append(cells, fmt.Sprint(c))
			case math.IsNaN(v) || math.IsInf(v, 0):
				cells = append(cells, "")
			default:
				cells = append(cells, fmt.Sprintf("%.6g", v))
			}
		}
		rows = append(rows, cells)
	}
	return rows
}

// capital begins a text with a capital letter.
func capital(text string) string {
	first, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return text
	}
	return string(unicode.ToUpper(first)) + text[size:]
}
