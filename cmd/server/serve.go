package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"

	"dwellbook/internal/app"
)

func serve(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("serve", "-db FILE [-addr HOST:PORT] [-public-url URL] [-policy FILE]", std)
	db := f.String("db", "", "the record's `file`; it is made where there is none")
	addr := f.String("addr", "127.0.0.1:8080", "the `address` to serve on")
	public := f.String("public-url", "", "the `address` people reach it at, such as https://cannulas.hospital.example; labels open it.\nWithout it a label opens the address it was asked for at")
	policy := f.String("policy", "", "put this policy `file` in force from now, if it differs")
	secure := f.Bool("behind-tls", false, "people reach it over TLS, which something in front ends")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if err := need("-db", *db); err != nil {
		return misused, err
	}
	origin, err := app.ParseOrigin(*public)
	if err != nil {
		return misused, err
	}
	a, err := app.New(ctx, app.Config{DB: *db, Log: slog.New(slog.NewTextHandler(std.err, nil)), Secure: *secure, Proxied: *secure, Public: origin})
	if err != nil {
		return undone, err
	}
	end, err := start(ctx, a, *addr, *policy, std)
	return end, errors.Join(err, a.Close())
}

func start(ctx context.Context, a *app.App, addr, policy string, std streams) (int, error) {
	if policy != "" {
		name, changed, err := a.PutPolicy(ctx, policy)
		if err != nil {
			return undone, err
		}
		if changed {
			fmt.Fprintf(std.err, "%s is in force from now.\n", name)
		} else {
			fmt.Fprintf(std.err, "%s was in force already.\n", name)
		}
	}
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return undone, fmt.Errorf("listen: %w", err)
	}
	token, err := a.Desk.SetUpToken(ctx)
	if err != nil {
		return undone, errors.Join(err, l.Close())
	}
	fmt.Fprintf(std.err, "Dwellbook is at http://%s\n", l.Addr())
	if token != "" {
		fmt.Fprintf(std.err, "There is no account yet. Create the first administrator, once, at\n  http://%s/set-up/%s\n", l.Addr(), token)
	}
	return done, a.Run(ctx, l)
}
