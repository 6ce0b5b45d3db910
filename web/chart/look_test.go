package chart_test

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/web/chart"
)

// TestLook_WritesSamplesToAPage writes every sample in every form to the file
// that CHART_PAGE names, for a person to look at.
func TestLook_WritesSamplesToAPage(t *testing.T) {
	t.Parallel()
	name := os.Getenv("CHART_PAGE")
	if name == "" {
		t.Skip("CHART_PAGE names no file")
	}
	css, err := os.ReadFile("../static/dwellbook.css")
	require.NoError(t, err)
	font, err := os.ReadFile("../static/atkinson-hyperlegible-next.woff2")
	require.NoError(t, err)
	css = bytes.ReplaceAll(css, []byte("atkinson-hyperlegible-next.woff2"),
		[]byte("data:font/woff2;base64,"+base64.StdEncoding.EncodeToString(font)))
	var page bytes.Buffer
	fmt.Fprintf(&page, `<!doctype html><meta charset="utf-8"><style>%s .chart{display:block!important;margin:8px} .chart-wide{width:720px}.chart-narrow{width:320px} .pair{display:flex;align-items:flex-start}</style>`, css)
	for _, c := range samples() {
		page.WriteString(`<div class="sheet pair">`)
		for _, size := range []chart.Size{chart.Wide, chart.Narrow} {
			require.NoError(t, c.Draw(size).Render(t.Context(), &page))
		}
		page.WriteString("</div>")
	}
	if os.Getenv("CHART_PNG") != "" {
		for _, c := range samples() {
			var png bytes.Buffer
			require.NoError(t, c.Draw(chart.Wide).WritePNG(&png))
			fmt.Fprintf(&page, `<img width="720" src="data:image/png;base64,%s">`, base64.StdEncoding.EncodeToString(png.Bytes()))
		}
	}
	require.NoError(t, os.WriteFile(name, page.Bytes(), 0o644))
}
