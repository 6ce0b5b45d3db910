package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"dwellbook/internal/desk"
	"dwellbook/internal/interop"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
	"dwellbook/internal/words"
)

// SheetImport is what the import command is asked about an audit sheet.
type SheetImport struct {
	DB, Source, Map, File string
	AsOf                  string // the moment the sheet tells of, as ParseMoment reads it; empty: now
	Zone                  string // of wards the import makes; empty: the hospital's
	DryRun, SkipBad       bool
	Correct               bool   // put changed values right
	MakeWards             bool   // make wards the record does not know
	BadFile               string // where SkipBad writes the bad rows
}

// SheetResult says what an import did, or would do.
type SheetResult struct {
	Rows, New, Same, Corrected int
	BadRows                    int
	Wards                      []string // made
	Unread                     []string // headings that are no column of ours
	Repeated                   []int    // line numbers of rows that repeat another to the letter
	Changed                    []string // what differs from the record and was left alone, in words
	Bad                        []string // what is wrong in rows that cannot be imported, in words
	BadFile                    string   // where the bad rows were written to
	Done                       bool     // something may have been stored
	ctx                        context.Context
}

// Write says it for people.
func (r SheetResult) Write(w io.Writer) error {
	var b strings.Builder
	say := func(key string, args ...any) { fmt.Fprintln(&b, words.Say(r.ctx, key, args...)) }
	for _, text := range slices.Concat(r.Bad, r.Changed) {
		fmt.Fprintln(&b, text)
	}
	if len(r.Unread) > 0 {
		say("import.unread", "n", len(r.Unread), "headings", strings.Join(r.Unread, ", "))
	}
	if n := len(r.Repeated); n > 0 {
		var lines []string
		for _, number := range r.Repeated {
			lines = append(lines, strconv.Itoa(number))
		}
		say("import.repeated", "n", n, "lines", strings.Join(lines, ", "))
	}
	if len(r.Wards) > 0 {
		say("import.wards", "wards", strings.Join(r.Wards, ", "))
	}
	if r.BadFile != "" {
		say("import.bad-file", "file", r.BadFile)
	}
	say("import.sum", "rows", r.Rows, "bad", r.BadRows, "fresh", r.New, "same", r.Same, "changed", len(r.Changed), "corrected", r.Corrected)
	if !r.Done {
		say("import.nothing")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// ImportSheet reads an audit sheet into the record. Unless SkipBad is set,
// nothing is imported where any row is bad: the import is tried first on a
// copy, so that rows the record itself refuses are found as well.
func ImportSheet(ctx context.Context, o SheetImport, clock func() time.Time) (SheetResult, error) {
	if _, err := time.LoadLocation(o.Zone); err != nil {
		return SheetResult{}, &Misuse{Text: fmt.Sprintf("-zone: %q is no time zone; an example: Europe/London", o.Zone)}
	}
	if _, err := os.Stat(o.DB); o.DryRun && errors.Is(err, fs.ErrNotExist) {
		return onNone(ctx, o, clock)
	}
	return importAt(ctx, o, clock)
}

// onNone tries the import where there is no record yet, and makes none.
func onNone(ctx context.Context, o SheetImport, clock func() time.Time) (result SheetResult, err error) {
	dir, err := os.MkdirTemp("", "dwellbook-import-")
	if err != nil {
		return result, fmt.Errorf("make a folder for the trial: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	o.DB = filepath.Join(dir, "record.db")
	return importAt(ctx, o, clock)
}

func importAt(ctx context.Context, o SheetImport, clock func() time.Time) (SheetResult, error) {
	st, err := store.Open(ctx, o.DB, store.Options{Clock: clock})
	if err != nil {
		return SheetResult{}, err
	}
	result, err := importOver(ctx, st, o, clock)
	return result, errors.Join(err, st.Close())
}

func importOver(ctx context.Context, st *store.Store, o SheetImport, clock func() time.Time) (SheetResult, error) {
	if o.SkipBad && !o.DryRun {
		return importInto(ctx, st, o, clock)
	}
	tried, err := onCopy(ctx, st, o, clock)
	tried.Done = false
	if err != nil || o.DryRun || len(tried.Bad) > 0 {
		return tried, err
	}
	return importInto(ctx, st, o, clock)
}

// onCopy tries the import on a copy of the record that is thrown away.
func onCopy(ctx context.Context, st *store.Store, o SheetImport, clock func() time.Time) (result SheetResult, err error) {
	dir, err := os.MkdirTemp("", "dwellbook-import-")
	if err != nil {
		return result, fmt.Errorf("make a folder for the trial: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	file := filepath.Join(dir, "copy.db")
	if err := st.Backup(ctx, file); err != nil {
		return result, err
	}
	trial, err := store.Open(ctx, file, store.Options{Clock: clock})
	if err != nil {
		return result, err
	}
	o.BadFile = ""
	result, err = importInto(ctx, trial, o, clock)
	return result, errors.Join(err, trial.Close())
}

// sheetImport is one import at work.
type sheetImport struct {
	SheetImport
	ctx    context.Context
	store  *store.Store
	desk   *desk.Desk
	house  *desk.House
	made   []line.Ward
	result SheetResult
}

func importInto(ctx context.Context, st *store.Store, o SheetImport, clock func() time.Time) (SheetResult, error) {
	d := desk.New(st, clock)
	h, err := d.House(ctx)
	if err != nil {
		return SheetResult{}, err
	}
	im := &sheetImport{SheetImport: o, store: st, desk: d, house: h, ctx: Speaking(ctx, h.Hospital, h.Zone, line.MinuteOf(clock()))}
	sheet, err := im.read(clock())
	if err != nil {
		return SheetResult{}, err
	}
	im.result.ctx, im.result.Unread, im.result.Repeated = im.ctx, sheet.Unread, sheet.Repeated
	for _, w := range im.made {
		if err := d.SetWard(ctx, desk.System(), w); err != nil {
			return SheetResult{}, fmt.Errorf("make ward %s: %w", w.Name, err)
		}
		im.result.Wards = append(im.result.Wards, w.Name)
	}
	if len(sheet.Bad) > 0 && !o.SkipBad && !o.DryRun {
		im.describeBad(sheet)
		return im.result, nil
	}
	if err := im.storeRows(&sheet); err != nil {
		return im.result, err
	}
	im.describeBad(sheet)
	im.result.Done = true
	err = im.writeBad(sheet)
	return im.result, err
}

// readMapping reads a mapping file; without a name, the usual mapping.
func readMapping(name string) (interop.Mapping, error) {
	if name == "" {
		return interop.DefaultMapping(), nil
	}
	text, err := os.ReadFile(name) // #nosec G304 -- named by whoever runs the command
	if err != nil {
		return interop.Mapping{}, fmt.Errorf("read the map: %w", err)
	}
	return interop.ParseMapping(name, text)
}

func (im *sheetImport) read(now time.Time) (interop.Sheet, error) {
	mapping, err := readMapping(im.Map)
	if err != nil {
		return interop.Sheet{}, err
	}
	options := interop.SheetOptions{Source: im.Source, Mapping: mapping, House: im, Author: desk.SystemID, Now: now}
	if im.AsOf != "" {
		asOf, err := ParseMoment(im.AsOf, im.house.Zone)
		if err != nil {
			return interop.Sheet{}, &Misuse{Text: "-as-of: " + err.Error()}
		}
		options.AsOf = asOf
	}
	f, err := os.Open(im.File)
	if err != nil {
		return interop.Sheet{}, fmt.Errorf("read the sheet: %w", err)
	}
	defer func() { _ = f.Close() }()
	return interop.ReadSheet(f, options)
}

// Ward finds a ward by name or id; where the record has no ward yet, or where
// asked, it makes one.
func (im *sheetImport) Ward(name string) (line.ID, *time.Location, bool) {
	name = strings.TrimSpace(name)
	for _, w := range im.house.Wards {
		if strings.EqualFold(w.Name, name) || string(w.Ward.Ward) == name {
			return w.Ward.Ward, w.Location, true
		}
	}
	for _, w := range im.made {
		if strings.EqualFold(w.Name, name) {
			zone, err := time.LoadLocation(w.Zone)
			return w.Ward, zone, err == nil
		}
	}
	if name == "" || len(im.house.Wards) > 0 && !im.MakeWards {
		return "", nil, false
	}
	zone := im.house.Zone
	if im.Zone != "" {
		var err error
		if zone, err = time.LoadLocation(im.Zone); err != nil {
			return "", nil, false
		}
	}
	w := line.Ward{Ward: wardID(name), Name: name, Zone: zone.String()}
	im.made = append(im.made, w)
	return w.Ward, zone, true
}

// wardNames is the namespace of the ids of wards that an import makes.
var wardNames = uuid.NewSHA1(uuid.NameSpaceOID, []byte("dwellbook ward"))

func wardID(name string) line.ID {
	return line.ID(uuid.NewSHA1(wardNames, []byte(strings.ToLower(name))).String())
}

// Reference reports whether the text fits the hospital's pattern.
func (im *sheetImport) Reference(text string) bool { return im.house.CheckReference(text) == nil }

func (im *sheetImport) describeBad(sheet interop.Sheet) {
	im.result.BadRows = len(sheet.Bad)
	for _, b := range sheet.Bad {
		im.result.Bad = append(im.result.Bad, badRow(im.ctx, b)...)
	}
}

// badRow says what is wrong in a row.
func badRow(ctx context.Context, b interop.BadRow) (texts []string) {
	for _, p := range b.Problems {
		texts = append(texts, words.Say(ctx, "import.bad-row", "number", b.Number, "column", p.Column, "what", p.What, "allowed", p.Allowed))
	}
	return texts
}

func (im *sheetImport) writeBad(sheet interop.Sheet) error {
	if im.BadFile == "" || len(sheet.Bad) == 0 {
		return nil
	}
	f, err := os.Create(im.BadFile)
	if err != nil {
		return fmt.Errorf("write the bad rows: %w", err)
	}
	err = interop.WriteBad(f, sheet, func(m line.Message) string { return words.Tell(im.ctx, m) })
	im.result.BadFile = im.BadFile
	return errors.Join(err, f.Close())
}
