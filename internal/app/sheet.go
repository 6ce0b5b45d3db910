package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/interop"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
	"dwellbook/internal/words"
)

// SheetImport is what the import command is asked about an audit sheet.
type SheetImport struct {
	DB, Source, Map, File string
	Zone                  string // of wards the import makes; empty: the hospital's
	DryRun, SkipBad       bool
	Correct               bool   // put changed values right
	MakeWards             bool   // make wards the record does not know
	BadFile               string // where SkipBad writes the bad rows
}

// SheetResult says what an import did, or would do.
type SheetResult struct {
	Rows, New, Same, Corrected int
	Wards                      []string // made
	Changed                    []string // values that differ from the record, left alone
	Bad                        []string // rows that cannot be imported, in words
	Done                       bool     // something may have been stored
}

// Write says it for people.
func (r SheetResult) Write(w io.Writer) error {
	var b strings.Builder
	for _, bad := range r.Bad {
		fmt.Fprintln(&b, bad)
	}
	for _, c := range r.Changed {
		fmt.Fprintln(&b, c)
	}
	if len(r.Wards) > 0 {
		fmt.Fprintf(&b, "wards made: %s\n", strings.Join(r.Wards, ", "))
	}
	fmt.Fprintf(&b, "%d good rows, %d bad; %d entries new, %d known already, %d values changed, %d corrected\n",
		r.Rows, len(r.Bad), r.New, r.Same, len(r.Changed), r.Corrected)
	if !r.Done {
		fmt.Fprintln(&b, "nothing was imported")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// ImportSheet reads an audit sheet into the record. Unless SkipBad is set,
// nothing is imported where any row is bad: the import is tried first on a
// copy, so that rows the record itself refuses are found as well.
func ImportSheet(ctx context.Context, o SheetImport, clock func() time.Time) (SheetResult, error) {
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
	im := &sheetImport{SheetImport: o, store: st, desk: d, house: h, ctx: Speaking(ctx, h.Zone, line.MinuteOf(clock()))}
	sheet, err := im.read(clock())
	if err != nil {
		return SheetResult{}, err
	}
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
	return im.result, im.writeBad(sheet)
}

func (im *sheetImport) read(now time.Time) (interop.Sheet, error) {
	mapping := interop.DefaultMapping()
	if im.Map != "" {
		text, err := os.ReadFile(im.Map)
		if err != nil {
			return interop.Sheet{}, fmt.Errorf("read the map: %w", err)
		}
		if mapping, err = interop.ParseMapping(im.Map, text); err != nil {
			return interop.Sheet{}, err
		}
	}
	f, err := os.Open(im.File)
	if err != nil {
		return interop.Sheet{}, fmt.Errorf("read the sheet: %w", err)
	}
	defer func() { _ = f.Close() }()
	return interop.ReadSheet(f, interop.SheetOptions{Source: im.Source, Mapping: mapping, House: im, Author: desk.SystemID, Now: now})
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

// storeRows stores the rows patient by patient; what the record refuses becomes bad rows.
func (im *sheetImport) storeRows(sheet *interop.Sheet) error {
	var order []line.ID
	rows := map[line.ID][]interop.Row{}
	for _, r := range sheet.Rows {
		if rows[r.Subject] == nil {
			order = append(order, r.Subject)
		}
		rows[r.Subject] = append(rows[r.Subject], r)
	}
	for _, subject := range order {
		err := im.patient(sheet, subject, rows[subject])
		var f *fault.Error
		switch {
		case errors.As(err, &f) && (f.Kind == fault.Invalid || f.Kind == fault.Conflict):
			for _, r := range rows[subject] {
				sheet.Bad = append(sheet.Bad, interop.BadRow{Number: r.Number, Text: r.Text, Problems: []interop.Problem{{
					What: line.Say(f.Key, f.Args...), Allowed: line.Say("import.allow.record"),
				}}})
			}
		case err != nil:
			return err
		default:
			im.result.Rows += len(rows[subject])
		}
	}
	slices.SortFunc(sheet.Bad, func(a, b interop.BadRow) int { return a.Number - b.Number })
	return nil
}

// patient stores what is new of one patient.
func (im *sheetImport) patient(sheet *interop.Sheet, subject line.ID, rows []interop.Row) error {
	entries, err := im.entriesOf(sheet, subject, rows)
	if err != nil {
		return err
	}
	var batch []line.Entry
	var fresh, corrected int
	for _, e := range entries {
		latest, seen, err := im.desk.Latest(im.ctx, desk.System(), e.ID)
		switch {
		case fault.Is(err, fault.NotFound):
			batch = append(batch, e)
			fresh++
		case fault.Is(err, fault.Conflict): // withdrawn since: the record knows better
			im.result.Same++
		case err != nil:
			return err
		case !interop.Changed(latest, e):
			im.result.Same++
		case im.Correct:
			batch = append(batch, interop.Correction(latest, seen, e, line.Text("imported from "+im.Source)))
			corrected++
		default:
			im.result.Changed = append(im.result.Changed, words.Say(im.ctx, "import.changed", "kind", e.Kind, "id", string(e.ID)))
		}
	}
	if len(batch) > 0 {
		if _, err := im.store.Append(im.ctx, line.Batch{Entries: batch}); err != nil {
			return err
		}
	}
	im.result.New += fresh
	im.result.Corrected += corrected
	return nil
}

// entriesOf are the patient's entries; of one the record knows, only the moves
// that are new.
func (im *sheetImport) entriesOf(sheet *interop.Sheet, subject line.ID, rows []interop.Row) ([]line.Entry, error) {
	var entries []line.Entry
	known, err := im.store.Patient(im.ctx, subject)
	if err != nil && !fault.Is(err, fault.NotFound) {
		return nil, err
	}
	if err == nil {
		marks, err := im.store.Marks(im.ctx, known.Key, 0)
		if err != nil {
			return nil, err
		}
		entries = sheet.Moves(subject, im.standing(line.Fold(marks)))
	}
	for _, r := range rows {
		for _, e := range r.Entries {
			if known.Key == 0 || !interop.IsMove(e.Kind) {
				entries = append(entries, e)
			}
		}
	}
	return entries, nil
}

func (im *sheetImport) standing(history line.Subject) interop.Standing {
	var s interop.Standing
	if n := len(history.Stays); n > 0 {
		last := history.Stays[n-1]
		if last.Until != line.Far {
			return interop.Standing{Since: last.Until}
		}
		s = interop.Standing{Ward: im.house.WardByKey(last.Ward).Ward.Ward, Since: last.From}
	}
	return s
}

func (im *sheetImport) describeBad(sheet interop.Sheet) {
	for _, b := range sheet.Bad {
		for _, p := range b.Problems {
			im.result.Bad = append(im.result.Bad, words.Say(im.ctx, "import.bad-row",
				"number", b.Number, "column", p.Column, "what", p.What, "allowed", p.Allowed))
		}
	}
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
	return errors.Join(err, f.Close())
}
