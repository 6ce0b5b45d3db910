package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"dwellbook/internal/app"
)

func demonstrate(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("demo", "[-addr HOST:PORT] [-seed N] [-db FILE]", std)
	addr := f.String("addr", "127.0.0.1:8080", "the `address` to serve on")
	seed := f.Uint64("seed", 1, "the `number` from which the hospital is invented")
	db := f.String("db", "", "keep the invented record in this `file` (default a temporary one)")
	makeOnly := f.Bool("make-only", false, "make the record and do not serve it")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	at := app.Listening{Addr: *addr}
	if err := at.Check(); err != nil {
		return misused, err
	}
	if *db == "" {
		dir, err := os.MkdirTemp("", "dwellbook-demo-")
		if err != nil {
			return undone, fmt.Errorf("make a folder for the demo: %w", err)
		}
		defer func() { _ = os.RemoveAll(dir) }()
		*db = filepath.Join(dir, "demo.db")
	} else if _, err := os.Stat(*db); err == nil {
		return misused, &app.Misuse{Text: "-db: " + *db + " is there already; name a new file"}
	}
	people, err := app.MakeDemo(ctx, *db, *seed, time.Now())
	if err != nil {
		return undone, err
	}
	if *makeOnly {
		return done, nil
	}
	a, err := app.New(ctx, app.Config{DB: *db})
	if err != nil {
		return undone, err
	}
	l, err := a.Listen(at)
	if err != nil {
		return undone, errors.Join(err, a.Close())
	}
	fmt.Fprintf(std.err, "An invented hospital is at http://%s\nSign in with the passphrase %q as\n", l.Addr(), app.DemoPassphrase)
	for _, p := range people {
		fmt.Fprintf(std.err, "  %-14s %s (%s)\n", p.SignIn, p.Role, p.Name)
	}
	return done, errors.Join(a.Run(ctx, l), a.Close())
}
