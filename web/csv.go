package web

import (
	"bytes"
	"net/http"

	"dwellbook/internal/interop"
)

// sendTable sends rows as a file for a spreadsheet.
func sendTable(w http.ResponseWriter, r *http.Request, name string, rows [][]string) error {
	var b bytes.Buffer
	out := interop.NewCSVWriter(&b)
	for _, row := range rows {
		if err := out.Write(row); err != nil {
			return err
		}
	}
	if err := out.Flush(); err != nil {
		return err
	}
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`.csv"`)
	return send(w, r, http.StatusOK, "text/csv; charset=utf-8", b.Bytes())
}
