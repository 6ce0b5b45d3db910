package main

import (
	"context"
	"fmt"
	"os"
	"time"

	"dwellbook/internal/app"
)

func verify(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("verify", "-db FILE [-head SAVED]", std)
	db := f.String("db", "", "the record's `file`, in use or not; it is not changed")
	head := f.String("head", "", "a head of this record that was kept elsewhere: a `file` as the page Record or the command head gives it")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if err := need("-db", *db); err != nil {
		return misused, err
	}
	v, err := app.Verify(ctx, *db, *head)
	if err != nil {
		return undone, err
	}
	if err := v.Write(std.out); err != nil {
		return undone, err
	}
	if !v.Clean() {
		return found, nil
	}
	return done, nil
}

func head(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("head", "-db FILE [-to FILE]", std)
	db := f.String("db", "", "the record's `file`, in use or not")
	to := f.String("to", "", "write to this new `file` (default standard output)")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if err := need("-db", *db); err != nil {
		return misused, err
	}
	text, err := app.Head(ctx, *db, time.Now)
	if err != nil {
		return undone, err
	}
	if *to == "" {
		_, err := fmt.Fprint(std.out, text)
		return done, err
	}
	file, err := os.OpenFile(*to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644) // #nosec G302 -- a head is to be handed on; it holds hashes alone
	if err != nil {
		return undone, fmt.Errorf("head: %w", err)
	}
	if _, err := file.WriteString(text); err != nil {
		_ = file.Close()
		return undone, fmt.Errorf("head: %w", err)
	}
	return done, file.Close()
}
