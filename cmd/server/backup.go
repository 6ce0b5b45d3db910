package main

import (
	"context"
	"fmt"
	"time"

	"dwellbook/internal/app"
)

func backup(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("backup", "-db FILE -to FILE\n     server backup -db FILE -to DIR [-keep N]", std)
	db := f.String("db", "", "the record's `file`, in use or not")
	to := f.String("to", "", "the copy's `file`; or a folder, where the copy is named by its moment and the oldest are dropped")
	keep := f.Int("keep", app.KeptBackups, "how many copies the folder keeps")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if err := need("-db", *db); err != nil {
		return misused, err
	}
	if err := need("-to", *to); err != nil {
		return misused, err
	}
	file := *to
	var err error
	if app.IsFolder(*to) {
		file, err = app.BackupInto(ctx, *db, *to, *keep)
	} else {
		err = app.Backup(ctx, *db, *to)
	}
	if err != nil {
		return undone, err
	}
	fmt.Fprintf(std.out, "copied to %s; the copy's integrity check is clean\n", file)
	return done, nil
}

func restore(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("restore", "-from COPY -db FILE [-replace]", std)
	from := f.String("from", "", "the backup's `file`")
	db := f.String("db", "", "the record's `file`; no server may have it open")
	replace := f.Bool("replace", false, "where the record's file is there already, put the copy in its place and keep it under another name")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if err := need("-from", *from); err != nil {
		return misused, err
	}
	if err := need("-db", *db); err != nil {
		return misused, err
	}
	r, err := app.Restore(ctx, *from, *db, *replace, time.Now())
	if err != nil {
		return undone, err
	}
	fmt.Fprintf(std.out, "restored to %s, checked: %d entries", *db, r.Entries)
	if !r.Last.IsZero() {
		fmt.Fprintf(std.out, ", the last recorded at %s", r.Last.Format(time.RFC3339))
	}
	fmt.Fprintln(std.out)
	if r.Aside != "" {
		fmt.Fprintf(std.out, "what was there before is now %s\n", r.Aside)
	}
	return done, nil
}
