package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"

	"dwellbook/internal/app"
)

func serve(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("serve", "-db FILE [-addr HOST:PORT] [-tls-cert FILE -tls-key FILE] [-public-url URL] [-policy FILE]", std)
	db := f.String("db", "", "the record's `file`; it is made where there is none")
	addr := f.String("addr", "127.0.0.1:8080", "the `address` to serve on")
	public := f.String("public-url", "", "the `address` people reach it at, such as https://cannulas.hospital.example; labels open it.\nWithout it a label opens the address it was asked for at")
	policy := f.String("policy", "", "put this policy `file` in force from now, if it differs")
	var at app.Listening
	f.StringVar(&at.Cert, "tls-cert", "", "serve over TLS with the certificate of this PEM `file`; a renewed one is taken up by itself")
	f.StringVar(&at.Key, "tls-key", "", "the certificate's key, a PEM `file`")
	behind := f.Bool("behind-tls", false, "people reach it over TLS, which something in front ends; the last address in its X-Forwarded-For is theirs")
	f.BoolVar(&at.Plain, "plain-http-on-network", false, "let passphrases and patients' references be read on the network between people and this address")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if err := need("-db", *db); err != nil {
		return misused, err
	}
	at.Addr = *addr
	if err := at.Check(); err != nil {
		return misused, err
	}
	origin, err := app.ParseOrigin(*public)
	if err != nil {
		return misused, err
	}
	a, err := app.New(ctx, app.Config{DB: *db, Log: slog.New(slog.NewTextHandler(std.err, nil)), Secure: *behind || at.Secure(), Proxied: *behind, Public: origin})
	if err != nil {
		return undone, err
	}
	end, err := start(ctx, a, at, *policy, std)
	return end, errors.Join(err, a.Close())
}

func start(ctx context.Context, a *app.App, at app.Listening, policy string, std streams) (int, error) {
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
	l, err := a.Listen(at)
	if err != nil {
		return undone, err
	}
	token, err := a.Desk.SetUpToken(ctx)
	if err != nil {
		return undone, errors.Join(err, l.Close())
	}
	scheme := "http"
	if at.Secure() {
		scheme = "https"
	}
	fmt.Fprintf(std.err, "Dwellbook is at %s://%s\n", scheme, l.Addr())
	if token != "" {
		fmt.Fprintf(std.err, "There is no account yet. Create the first administrator, once, at\n  %s://%s/set-up/%s\n", scheme, l.Addr(), token)
	}
	return done, a.Run(ctx, l)
}
