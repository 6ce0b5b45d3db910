package web

import (
	"bytes"
	"encoding/csv"
	"net/http"
	"strings"
)

// sendTable sends rows as a file for a spreadsheet, no cell of which is read
// as a formula.
func sendTable(w http.ResponseWriter, r *http.Request, name string, rows [][]string) error {
	var b bytes.Buffer
	out := csv.NewWriter(&b)
	for _, row := range rows {
		for i := range row {
			row[i] = inert(row[i])
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`.csv"`)
	return send(w, r, http.StatusOK, "text/csv; charset=utf-8", b.Bytes())
}

// inert keeps a spreadsheet from reading a cell as a formula.
func inert(cell string) string {
	if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
		return "'" + cell
	}
	return cell
}
