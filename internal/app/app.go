// Package app is the one place where everything is wired: the record, the desk,
// the screens. The commands and the tests start the product through it.
package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"strings"
	"sync"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/store"
	"dwellbook/internal/words"
	"dwellbook/web"
)

// Config is what the product is started with.
type Config struct {
	DB      string           // the record's file; made or migrated where needed
	Clock   func() time.Time // nil: the machine's
	Log     *slog.Logger     // nil: to nowhere
	Secure  bool             // people come over TLS: cookies go over nothing else
	Proxied bool             // what stands in front names the client in X-Forwarded-For
	Public  string           // scheme and host under which people reach it; empty: as each request names it
	Words   words.Languages  // the languages spoken; nil: those that the program carries
	Heads   string           // a folder for the record's signed heads; empty: none

	Backups Backups
}

// App is the product, ready to serve.
type App struct {
	Desk    *desk.Desk
	Handler http.Handler
	routes  http.Handler
	store   *store.Store
	log     *slog.Logger
	heads   string
	keeper  *keeper
	metrics *metrics

	stopping chan struct{} // closed when the product begins to stop
}

// New opens the record and wires the screens over it.
func New(ctx context.Context, c Config) (*App, error) {
	if c.Clock == nil {
		c.Clock = time.Now
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.Words == nil {
		c.Words = words.Embedded()
	}
	if err := c.Backups.check(); err != nil {
		return nil, err
	}
	st, err := store.Open(ctx, c.DB, store.Options{Clock: c.Clock})
	if err != nil {
		return nil, err
	}
	a := &App{Desk: desk.New(st, c.Clock), store: st, log: c.Log, heads: c.Heads, stopping: make(chan struct{})}
	a.keeper = &keeper{Backups: c.Backups, store: st, clock: c.Clock, log: c.Log}
	a.Desk.WatchBackups(a.keeper.ask)
	a.metrics = newMetrics(a)
	server := web.New(web.Config{
		Desk: a.Desk, Sessions: st.Sessions(), Clock: c.Clock, Log: c.Log, Secure: c.Secure, Proxied: c.Proxied, Public: c.Public, Words: c.Words,
		Ready: a.ready, Observe: a.metrics.observe, Stopping: a.stopping,
	})
	a.Handler, a.routes = server, server.Routes()
	return a, nil
}

// ready refuses while the record does not answer or the product is stopping.
func (a *App) ready(ctx context.Context) error {
	select {
	case <-a.stopping:
		return errors.New("stopping")
	default:
	}
	_, err := a.store.LastSeq(ctx)
	return err
}

// ParseOrigin reads a web address that names a server and nothing on it, and
// gives its scheme and host; of nothing, nothing. What it refuses is a [*Misuse].
func ParseOrigin(s string) (string, error) {
	if s == "" {
		return "", nil
	}
	u, err := url.Parse(strings.ToLower(s))
	if err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Hostname() == "" || strings.Trim(u.Path, "/") != "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" {
		return "", &Misuse{Text: fmt.Sprintf("-public-url: %q is no server's address; an example: https://cannulas.hospital.example", s)}
	}
	return u.Scheme + "://" + u.Host, nil
}

// Routes lists what the screens answer to, for tests that walk it.
func (a *App) Routes() http.Handler { return a.routes }

// Close ends the record; what was begun is finished.
func (a *App) Close() error { return a.store.Close() }

// Bounds on slow and greedy clients. The one on writing stands in web: a
// board's stream of changes stays open.
const (
	headerTimeout  = 10 * time.Second
	readTimeout    = 30 * time.Second
	idleTimeout    = 2 * time.Minute
	stopTimeout    = 10 * time.Second
	largestHeaders = 32 << 10
)

// Run serves on the listener until the context ends, then finishes what it
// began: whoever waits for an answer gets it, for up to ten seconds. It is
// called once.
func (a *App) Run(ctx context.Context, l net.Listener) error {
	base, cancel := context.WithCancel(context.Background())
	defer cancel()
	server := a.server(a.Handler)
	server.BaseContext = func(net.Listener) context.Context { return base }
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(l) }()
	beside, stopBeside := context.WithCancel(ctx)
	var works sync.WaitGroup
	works.Go(func() { a.keeper.run(beside) })
	works.Go(func() { a.signHeads(beside) })
	defer works.Wait()
	defer stopBeside()
	select {
	case err := <-failed:
		return fmt.Errorf("serve on %s: %w", l.Addr(), err)
	case <-ctx.Done():
	}
	close(a.stopping) // boards' streams end; the rest is waited for
	stop, done := context.WithTimeout(context.Background(), stopTimeout)
	defer done()
	err := server.Shutdown(stop)
	if errors.Is(err, context.DeadlineExceeded) {
		a.log.Warn("some requests were cut off", "after", stopTimeout)
		return server.Close()
	}
	if err != nil {
		return fmt.Errorf("stop: %w", err)
	}
	return nil
}

// server bounds what a slow client can hold.
func (a *App) server(h http.Handler) *http.Server {
	return &http.Server{
		Handler: h, ReadHeaderTimeout: headerTimeout, ReadTimeout: readTimeout, IdleTimeout: idleTimeout, MaxHeaderBytes: largestHeaders,
		ErrorLog: slog.NewLogLogger(a.log.Handler(), slog.LevelWarn),
	}
}

// PutPolicy reads a policy file and puts it in force from now if it differs
// from the one in force; it gives the policy's name and whether it changed.
func (a *App) PutPolicy(ctx context.Context, file string) (name string, changed bool, err error) {
	p, err := readPolicy(file)
	if err != nil {
		return "", false, err
	}
	changed, err = a.Desk.SetPolicy(ctx, desk.System(), p.Text())
	return p.Name(), changed, err
}

func readPolicy(file string) (*audit.Policy, error) {
	text, err := os.ReadFile(file) // #nosec G304 -- named by whoever starts the server
	if err != nil {
		return nil, fmt.Errorf("read policy: %w", err)
	}
	return audit.ParsePolicy(file, text)
}

// Explain is the sentence of an error, for a person at a shell.
func Explain(ctx context.Context, err error) string {
	var e *fault.Error
	if !errors.As(err, &e) || e.Kind == fault.Internal {
		return err.Error()
	}
	text := words.Say(ctx, e.Key, e.Args...)
	for name, m := range e.Fields {
		text += fmt.Sprintf("\n  %s: %s", name, words.Say(ctx, m.Key, m.Args...))
	}
	return text
}
