package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"

	"golang.org/x/sync/errgroup"

	"dwellbook/internal/app"
)

// serving is what serve was asked for, beside how the product is wired.
type serving struct {
	at              app.Listening
	metrics, policy string
}

func serve(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("serve", "-db FILE [-addr HOST:PORT] [-tls-cert FILE -tls-key FILE] [-public-url URL] [-policy FILE] [-words FOLDER] [-heads FOLDER] [-backup-to DIR -backup-every 1h]", std)
	var c app.Config
	var s serving
	f.StringVar(&c.DB, "db", "", "the record's `file`; it is made where there is none")
	f.StringVar(&s.at.Addr, "addr", "127.0.0.1:8080", "the `address` to serve on")
	f.StringVar(&c.Public, "public-url", "", "the `address` people reach it at, such as https://cannulas.hospital.example; labels open it.\nWithout it a label opens the address it was asked for at")
	f.StringVar(&s.policy, "policy", "", "put this policy `file` in force from now, if it differs")
	own := f.String("words", "", "a `folder` with the hospital's own words: for each language a folder named by its tag, such as fr")
	f.StringVar(&s.at.Cert, "tls-cert", "", "serve over TLS with the certificate of this PEM `file`; a renewed one is taken up by itself")
	f.StringVar(&s.at.Key, "tls-key", "", "the certificate's key, a PEM `file`")
	f.BoolVar(&c.Proxied, "behind-tls", false, "people reach it over TLS, which something in front ends; the last address in its X-Forwarded-For is theirs")
	f.BoolVar(&s.at.Plain, "plain-http-on-network", false, "let passphrases and patients' references be read on the network between people and this address")
	f.StringVar(&c.Heads, "heads", "", "write the record's signed head to this `folder` each minute, one file a day: best on another machine")
	f.StringVar(&c.Backups.Folder, "backup-to", "", "the `folder` of backups, whose age and size administrators see")
	f.DurationVar(&c.Backups.Every, "backup-every", 0, "make a backup there every so often, such as 1h (default: something else makes them)")
	f.IntVar(&c.Backups.Keep, "backup-keep", app.KeptBackups, "how many backups are kept")
	f.StringVar(&s.metrics, "metrics-addr", "", "serve figures for Prometheus on this loopback `address`, such as 127.0.0.1:9600")
	form := f.String("log", "text", "write the log as `text` or json")
	level := slog.LevelInfo
	f.TextVar(&level, "log-level", level, "log from this `level` on: debug, info, warn or error")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	if err := need("-db", c.DB); err != nil {
		return misused, err
	}
	if err := s.at.Check(); err != nil {
		return misused, err
	}
	c.Secure = c.Proxied || s.at.Secure()
	var err error
	if c.Public, err = app.ParseOrigin(c.Public); err != nil {
		return misused, err
	}
	if c.Words, err = app.ReadWords(*own); err != nil {
		return misused, err
	}
	if c.Log, err = logger(*form, level, std.err); err != nil {
		return misused, err
	}
	if s.metrics != "" {
		if s.metrics, err = app.ParseLoopback(s.metrics); err != nil {
			return misused, err
		}
	}
	a, err := app.New(ctx, c)
	if err != nil {
		return undone, err
	}
	end, err := s.start(ctx, a, std)
	return end, errors.Join(err, a.Close())
}

func logger(form string, level slog.Level, w io.Writer) (*slog.Logger, error) {
	o := &slog.HandlerOptions{Level: level}
	switch form {
	case "text":
		return slog.New(slog.NewTextHandler(w, o)), nil
	case "json":
		return slog.New(slog.NewJSONHandler(w, o)), nil
	}
	return nil, &app.Misuse{Text: fmt.Sprintf("-log: %q is neither text nor json", form)}
}

func (s serving) start(ctx context.Context, a *app.App, std streams) (int, error) {
	if s.policy != "" {
		name, changed, err := a.PutPolicy(ctx, s.policy)
		if err != nil {
			return undone, err
		}
		if changed {
			fmt.Fprintf(std.err, "%s is in force from now.\n", name)
		} else {
			fmt.Fprintf(std.err, "%s was in force already.\n", name)
		}
	}
	l, err := a.Listen(s.at)
	if err != nil {
		return undone, err
	}
	token, err := a.Desk.SetUpToken(ctx)
	if err != nil {
		return undone, errors.Join(err, l.Close())
	}
	scheme := "http"
	if s.at.Secure() {
		scheme = "https"
	}
	run, ctx := errgroup.WithContext(ctx)
	if s.metrics != "" {
		figures, err := net.Listen("tcp", s.metrics)
		if err != nil {
			return undone, errors.Join(fmt.Errorf("listen for figures: %w", err), l.Close())
		}
		fmt.Fprintf(std.err, "Figures are at http://%s/metrics\n", figures.Addr())
		run.Go(func() error { return a.RunMetrics(ctx, figures) })
	}
	fmt.Fprintf(std.err, "Dwellbook is at %s://%s\n", scheme, l.Addr())
	if token != "" {
		fmt.Fprintf(std.err, "There is no account yet. Create the first administrator, once, at\n  %s://%s/set-up/%s\n", scheme, l.Addr(), token)
	}
	run.Go(func() error { return a.Run(ctx, l) })
	return done, run.Wait()
}
