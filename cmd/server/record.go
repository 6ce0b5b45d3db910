package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"time"

	"dwellbook/internal/app"
)

func importFile(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("import", "-db FILE -source NAME [flags] SHEET.csv\n     server import -db FILE -entries ENTRIES.jsonl", std)
	var o app.SheetImport
	f.StringVar(&o.DB, "db", "", "the record's `file`; it is made where there is none")
	f.StringVar(&o.Source, "source", "", "where the sheets come from: the same `name` each month, so that a line is known again")
	f.StringVar(&o.Map, "map", "", "a TOML `file` that says what the sheet's headings, words and dates mean (default our own)")
	f.StringVar(&o.AsOf, "as-of", "", "the `moment` the sheet tells of, RFC 3339 or a date (its midnight): lines without\n"+
		"removed_at were in then (or, where the map says found-gone, out), and a line without any time\n"+
		"was first seen then (default now)")
	f.StringVar(&o.Zone, "zone", "", "the `zone` of wards that the import makes (default the hospital's)")
	f.BoolVar(&o.DryRun, "dry-run", false, "report what would be done; change nothing")
	f.BoolVar(&o.SkipBad, "skip-bad", false, "import the good rows and write the bad ones to -bad (default: one bad row, and nothing is imported)")
	f.BoolVar(&o.Correct, "correct", false, "record a correction where the sheet says something else than the record (default: report it, change nothing)")
	f.BoolVar(&o.MakeWards, "make-wards", false, "make wards that the record does not know (default: their rows are bad, unless it knows no ward at all)")
	f.StringVar(&o.BadFile, "bad", "", "the `file` for bad rows and what is wrong in each, to be mended and imported (default SHEET.csv.bad.csv)")
	entries := f.String("entries", "", "read another record's entries from this JSON Lines `file`; with -db alone")
	if err := parse(f, args, std, 1); err != nil {
		return misused, err
	}
	if err := need("-db", o.DB); err != nil {
		return misused, err
	}
	if *entries != "" {
		if f.NFlag() > 2 || f.NArg() > 0 {
			return misused, &app.Misuse{Text: "-entries takes -db and nothing else; the other flags are of sheets"}
		}
		fresh, known, err := app.ImportEntries(ctx, o.DB, *entries, time.Now)
		if err != nil {
			return undone, err
		}
		fmt.Fprintf(std.out, "%d entries new, %d known already\n", fresh, known)
		return done, nil
	}
	o.File = f.Arg(0)
	if err := need("a sheet", o.File); err != nil {
		return misused, err
	}
	if err := need("-source", o.Source); err != nil {
		return misused, err
	}
	if o.SkipBad && o.BadFile == "" {
		o.BadFile = o.File + ".bad.csv"
	}
	return importSheet(ctx, o, std)
}

func importSheet(ctx context.Context, o app.SheetImport, std streams) (int, error) {
	result, err := app.ImportSheet(ctx, o, time.Now)
	if err != nil {
		return undone, err
	}
	if len(result.Bad) > 0 && !o.SkipBad && !o.DryRun {
		return undone, result.Write(std.err)
	}
	return done, result.Write(std.out)
}

func export(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("export", "-db FILE -entries [-to FILE]", std)
	db := f.String("db", "", "the record's `file`")
	entries := f.Bool("entries", false, "write every entry, as JSON Lines")
	to := f.String("to", "", "write to this `file` (default standard output)")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if err := need("-db", *db); err != nil {
		return misused, err
	}
	if !*entries {
		return misused, &app.Misuse{Text: "say what to export: -entries"}
	}
	if *to == "" {
		// Nothing on standard output unless all of it could be read.
		var out bytes.Buffer
		if err := app.ExportEntries(ctx, *db, &out); err != nil {
			return undone, err
		}
		_, err := out.WriteTo(std.out)
		return done, err
	}
	file, err := os.OpenFile(*to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return undone, fmt.Errorf("export: %w", err)
	}
	if err := app.ExportEntries(ctx, *db, file); err != nil {
		_ = file.Close()
		return undone, err
	}
	return done, file.Close()
}

func rebuild(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("rebuild", "-db FILE", std)
	db := f.String("db", "", "the record's `file`")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if err := need("-db", *db); err != nil {
		return misused, err
	}
	r, err := app.Rebuild(ctx, *db)
	if err != nil {
		return undone, err
	}
	for _, t := range r.Tables {
		fmt.Fprintf(std.out, "%-14s %8d rows, %d missing, %d surplus\n", t.Table, t.Rows, t.Missing, t.Surplus)
	}
	if !r.Clean() {
		fmt.Fprintln(std.out, "the tables differed and have been remade")
		return found, nil
	}
	fmt.Fprintf(std.out, "%d entries; every derived table was as it should be\n", r.Entries)
	return done, nil
}
