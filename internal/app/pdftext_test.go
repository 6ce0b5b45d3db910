package app_test

import (
	"bytes"
	"compress/zlib"
	"encoding/hex"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/require"
)

var (
	pdfBox       = regexp.MustCompile(`/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]`)
	pdfFontNames = regexp.MustCompile(`/(F\d+) (\d+) 0 R`)
	pdfToUnicode = regexp.MustCompile(`/ToUnicode (\d+) 0 R`)
	pdfStream    = regexp.MustCompile(`(?s)/FlateDecode.*?stream\r?\n(.*)\r?\nendstream`)
	pdfShows     = regexp.MustCompile(`/(F\d+) [\d.]+ Tf|<([0-9A-F]+)> Tj`)
	cmapSection  = regexp.MustCompile(`(?s)beginbf(char|range)\n(.*?)\nendbf`)
)

// pageSize is the PDF's page in millimetres (ISO 32000-1, 14.11.2: the media
// box is in points, 72 to an inch).
func pageSize(t *testing.T, pdf string) (width, height float64) {
	t.Helper()
	box := pdfBox.FindStringSubmatch(pdf)
	require.NotNil(t, box)
	millimetres := func(points string) float64 {
		n, err := strconv.ParseFloat(points, 64)
		require.NoError(t, err)
		return n * 25.4 / 72
	}
	return millimetres(box[1]), millimetres(box[2])
}

// pdfText is what a PDF shows, without the spaces between words: each glyph
// that is drawn, through its font's map to Unicode (ISO 32000-1, 9.10.3).
func pdfText(t *testing.T, pdf string) string {
	t.Helper()
	objects := map[string]string{}
	for _, m := range pdfObject.FindAllStringSubmatch(pdf, -1) {
		objects[m[1]] = m[2]
	}
	fonts := map[string]map[string]string{}
	for _, m := range pdfFontNames.FindAllStringSubmatch(pdf, -1) {
		if to := pdfToUnicode.FindStringSubmatch(objects[m[2]]); to != nil {
			fonts[m[1]] = readCMap(t, inflated(objects[to[1]]))
		}
	}
	var text strings.Builder
	for _, object := range objects {
		font := ""
		for _, m := range pdfShows.FindAllStringSubmatch(inflated(object), -1) {
			if m[1] != "" {
				font = m[1]
				continue
			}
			glyphs := fonts[font]
			for code := range glyphs {
				for i := 0; i < len(m[2]); i += len(code) {
					text.WriteString(glyphs[m[2][i:i+len(code)]])
				}
				break // all of a font's codes are of one length
			}
		}
	}
	return strings.ReplaceAll(text.String(), " ", "")
}

// inflated is the content of an object's compressed stream, or nothing.
func inflated(object string) string {
	m := pdfStream.FindStringSubmatch(object)
	if m == nil {
		return ""
	}
	r, err := zlib.NewReader(strings.NewReader(m[1]))
	if err != nil {
		return ""
	}
	var out bytes.Buffer
	if _, err := io.Copy(&out, r); err != nil {
		return ""
	}
	return out.String()
}

func readCMap(t *testing.T, cmap string) map[string]string {
	t.Helper()
	glyphs := map[string]string{}
	for _, section := range cmapSection.FindAllStringSubmatch(cmap, -1) {
		for _, l := range strings.Split(section[2], "\n") {
			codes := strings.Fields(strings.NewReplacer("<", "", ">", "").Replace(l))
			from, to := codes[0], codes[0]
			if section[1] == "range" {
				to = codes[1]
			}
			first, err := strconv.ParseUint(from, 16, 16)
			require.NoError(t, err)
			last, err := strconv.ParseUint(to, 16, 16)
			require.NoError(t, err)
			units, err := hex.DecodeString(codes[len(codes)-1])
			require.NoError(t, err)
			for code := first; code <= last; code++ {
				text := []uint16{uint16(units[0])<<8 | uint16(units[1]) + uint16(code-first)}
				key := strings.ToUpper(strconv.FormatUint(code, 16))
				glyphs[strings.Repeat("0", len(from)-len(key))+key] = string(utf16.Decode(text))
			}
		}
	}
	return glyphs
}
