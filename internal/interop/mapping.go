package interop

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"dwellbook/internal/line"
)

// Mapping says how a sheet's headings, codes and dates are to be read. The
// zero value is not usable: ask DefaultMapping or ParseMapping.
type Mapping struct {
	columns   map[string]string // our column: the heading, or headings joined by " + "
	wards     map[string]string // as folded: the ward's name
	sites     map[string]line.Site
	sides     map[string]line.Side
	gauges    map[string]line.Gauge
	asepses   map[string]line.Asepsis
	dressings map[string]line.Material
	reasons   map[string]line.Reason
	firstTime map[string]line.Answer
	attempts  map[string]int
	scores    map[string]int
	blank     []string
	patterns  []pattern
	zone      *time.Location // nil: the ward's
	foundGone bool           // a line without removed_at was found gone
	scale     string
	delimiter rune // 0: seen from the heading row
}

// MappingError says what is wrong in a mapping file.
type MappingError struct {
	File    string
	Line    int    // from 1
	Key     string // such as "codes.site.ACF"; empty where the file is no TOML
	Problem string
	Allowed string // what is allowed; may be empty
}

// Error is the whole of it in one sentence.
func (e *MappingError) Error() string {
	text := fmt.Sprintf("%s:%d: ", e.File, e.Line)
	if e.Key != "" {
		text += e.Key + ": "
	}
	text += e.Problem
	if e.Allowed != "" {
		text += "; allowed: " + e.Allowed
	}
	return text
}

// mappingFile is the file as it stands.
type mappingFile struct {
	Columns map[string]string `toml:"columns"`
	Codes   struct {
		Ward      map[string]string `toml:"ward"`
		Site      map[string]string `toml:"site"`
		Side      map[string]string `toml:"side"`
		Gauge     map[string]string `toml:"gauge"`
		Asepsis   map[string]string `toml:"asepsis"`
		Dressing  map[string]string `toml:"dressing"`
		Reason    map[string]string `toml:"removal_reason"`
		FirstTime map[string]string `toml:"first_attempt_success"`
		Attempts  map[string]int    `toml:"attempts"`
		Score     map[string]int    `toml:"last_score"`
	} `toml:"codes"`
	DateFormats []string  `toml:"date_formats"`
	Zone        string    `toml:"zone"`
	OpenLines   string    `toml:"open_lines"`
	Delimiter   string    `toml:"delimiter"`
	Blank       *[]string `toml:"blank"`
	Scale       string    `toml:"scale"`
}

const mappingKeys = "columns, codes.ward, codes.site, codes.side, codes.gauge, codes.asepsis, codes.dressing, codes.removal_reason, " +
	"codes.first_attempt_success, codes.attempts, codes.last_score, date_formats, zone, open_lines, delimiter, blank, scale"

// DefaultMapping reads sheets with our own headings and codes and the ward's zone.
func DefaultMapping() Mapping { return Mapping{patterns: standing, blank: blanks} }

// ParseMapping reads a mapping file; name is what errors call it. The error is
// a *MappingError about the first thing that is wrong.
func ParseMapping(name string, text []byte) (Mapping, error) {
	var file mappingFile
	if err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(&file); err != nil {
		return Mapping{}, notMapping(name, err)
	}
	r := mappingReader{file: name, lines: linesOf(text)}
	m := DefaultMapping()
	m.columns = r.headings(file.Columns)
	m.wards = r.words("ward", file.Codes.Ward)
	m.sites = codesOf(&r, "site", file.Codes.Site, parseCode[line.Site])
	m.sides = codesOf(&r, "side", file.Codes.Side, parseCode[line.Side])
	m.gauges = codesOf(&r, "gauge", file.Codes.Gauge, line.ParseGauge)
	m.asepses = codesOf(&r, "asepsis", file.Codes.Asepsis, parseCode[line.Asepsis])
	m.dressings = codesOf(&r, "dressing", file.Codes.Dressing, parseCode[line.Material])
	m.reasons = codesOf(&r, "removal_reason", file.Codes.Reason, parseCode[line.Reason])
	m.firstTime = codesOf(&r, "first_attempt_success", file.Codes.FirstTime, parseCode[line.Answer])
	m.attempts = r.numbers("attempts", file.Codes.Attempts, attemptsRange)
	m.scores = r.numbers("last_score", file.Codes.Score, scoreRange)
	r.plainValues(&m, &file)
	if len(r.errs) > 0 {
		return Mapping{}, slices.MinFunc(r.errs, func(a, b *MappingError) int { return a.Line - b.Line })
	}
	return m, nil
}

func notMapping(name string, err error) error {
	e := &MappingError{File: name, Line: 1, Problem: strings.TrimPrefix(err.Error(), "toml: ")}
	var at *toml.DecodeError
	var strange *toml.StrictMissingError
	if errors.As(err, &strange) && len(strange.Errors) > 0 {
		at = &strange.Errors[0]
		e.Problem, e.Allowed = "there is no such key", mappingKeys
	} else {
		errors.As(err, &at)
	}
	if at != nil {
		e.Line, _ = at.Position()
		e.Key = strings.Join(at.Key(), ".")
	}
	return e
}

type mappingReader struct {
	file  string
	lines map[string]int
	errs  []*MappingError
}

func (r *mappingReader) fail(key, problem, allowed string) {
	at := r.lines[key]
	for table := key; at == 0 && table != ""; { // an inline table has one line for all
		table = table[:max(0, strings.LastIndexByte(table, '.'))]
		at = r.lines[table]
	}
	r.errs = append(r.errs, &MappingError{File: r.file, Line: max(at, 1), Key: key, Problem: problem, Allowed: allowed})
}

func (r *mappingReader) headings(columns map[string]string) map[string]string {
	used := map[string]string{}
	for _, column := range slices.Sorted(maps.Keys(columns)) {
		key, heading := "columns."+column, folded(columns[column])
		switch {
		case !slices.Contains(EpisodeColumns, column):
			r.fail(key, "there is no such column", strings.Join(EpisodeColumns, ", "))
		case heading == "":
			r.fail(key, "the heading is empty", "a heading of the sheet, or two joined by \" + \"")
		case used[heading] != "":
			r.fail(key, fmt.Sprintf("the heading %q is also that of %s", columns[column], used[heading]), "one column for each heading")
		}
		used[heading] = column
	}
	return columns
}

// words folds the sheet's words; two that fold alike must mean the same.
func (r *mappingReader) words(column string, codes map[string]string) map[string]string {
	return codesOf(r, column, codes, func(s string) (string, error) { return s, nil })
}

func codesOf[C comparable](r *mappingReader, column string, codes map[string]string, parse func(string) (C, error)) map[string]C {
	read := map[string]C{}
	for _, word := range slices.Sorted(maps.Keys(codes)) {
		key := "codes." + column + "." + word
		code, err := parse(codes[word])
		var unknown *line.UnknownWord
		switch {
		case errors.As(err, &unknown):
			r.fail(key, fmt.Sprintf("%q is no %s", unknown.Word, unknown.What), strings.Join(unknown.Allowed, ", ")+", or empty for a blank cell")
			continue
		case err != nil:
			r.fail(key, err.Error(), "")
			continue
		}
		if other, twice := read[folded(word)]; twice && other != code {
			r.fail(key, "the same word stands twice with two meanings", "capitals and spaces make no difference")
		}
		read[folded(word)] = code
	}
	return read
}

// parseCode reads one of our own words.
func parseCode[C any, P interface {
	*C
	Parse(string) error
}](s string) (C, error) {
	var c C
	err := P(&c).Parse(s)
	return c, err
}

// span is the least and the most of a whole number.
type span struct{ least, most int }

var (
	attemptsRange = span{1, 20}
	scoreRange    = span{0, 5}
)

func (s span) holds(n int) bool { return s.least <= n && n <= s.most }

func (r *mappingReader) numbers(column string, codes map[string]int, allowed span) map[string]int {
	read := map[string]int{}
	for _, word := range slices.Sorted(maps.Keys(codes)) {
		if !allowed.holds(codes[word]) {
			r.fail("codes."+column+"."+word, fmt.Sprintf("%d is out of range", codes[word]), fmt.Sprintf("%d to %d", allowed.least, allowed.most))
		}
		read[folded(word)] = codes[word]
	}
	return read
}

func (r *mappingReader) plainValues(m *Mapping, file *mappingFile) {
	for _, shown := range file.DateFormats {
		p, err := parsePattern(shown)
		if err != nil {
			r.fail("date_formats", fmt.Sprintf("%q: %v", shown, err), patternHelp)
		}
		m.patterns = append(slices.Clip(m.patterns), p)
	}
	if file.Zone != "" {
		zone, err := time.LoadLocation(file.Zone)
		if err != nil || file.Zone == "Local" {
			r.fail("zone", fmt.Sprintf("%q is no time zone", file.Zone), "an IANA name such as Europe/London")
		}
		m.zone = zone
	}
	switch file.OpenLines {
	case "", "in-situ":
	case "found-gone":
		m.foundGone = true
	default:
		r.fail("open_lines", fmt.Sprintf("%q is no answer", file.OpenLines), "in-situ, found-gone")
	}
	switch file.Delimiter {
	case "":
	case ",", ";", "\t", "|":
		m.delimiter = rune(file.Delimiter[0])
	default:
		r.fail("delimiter", fmt.Sprintf("%q is no delimiter", file.Delimiter), `",", ";", "|", "\t"`)
	}
	if file.Blank != nil {
		m.blank = nil
		for _, word := range *file.Blank {
			m.blank = append(m.blank, folded(word))
		}
	}
	m.scale = strings.TrimSpace(file.Scale)
}

// ward is the name of the ward that a cell means.
func (m *Mapping) ward(cell string) string {
	if name, ok := m.wards[folded(cell)]; ok {
		return name
	}
	return cell
}

// linesOf finds the line on which each key of a TOML file stands.
func linesOf(text []byte) map[string]int {
	lines := map[string]int{}
	note := func(table []string, node *unstable.Node) []string {
		path := slices.Clip(table)
		for it := node.Key(); it.Next(); {
			key := it.Node()
			path = append(path, string(key.Data))
			if full := strings.Join(path, "."); lines[full] == 0 {
				lines[full] = 1 + bytes.Count(text[:key.Raw.Offset], []byte("\n"))
			}
		}
		return path
	}
	var p unstable.Parser
	p.Reset(text)
	var table []string
	for p.NextExpression() {
		switch node := p.Expression(); node.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = note(nil, node)
		case unstable.KeyValue:
			note(table, node)
		}
	}
	return lines
}
