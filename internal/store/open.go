package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/base64"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"dwellbook/internal/fault"
)

// Options tunes a store; the zero value is right for use.
type Options struct {
	Clock      func() time.Time // the record's clock; nil: the machine's
	Salt       func() string    // a fresh salt for each text; nil: 16 random bytes in base64
	Poll       time.Duration    // how often another process's writes are looked for; 0: each second
	Checkpoint time.Duration    // how often the log is folded into the file, in quiet moments; 0: each second
}

func (o Options) filled() Options {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	if o.Salt == nil {
		o.Salt = newSalt
	}
	if o.Poll == 0 {
		o.Poll = time.Second
	}
	if o.Checkpoint == 0 {
		o.Checkpoint = time.Second
	}
	return o
}

func newSalt() string {
	var b [16]byte
	_, _ = rand.Read(b[:]) // never fails: crypto/rand ends the program instead
	return base64.RawURLEncoding.EncodeToString(b[:])
}

// Store is the record on disk. It is safe for use by many at once.
type Store struct {
	path    string
	options Options
	readers *sql.DB
	stmts   []*sql.Stmt // of the readers, by statement.at
	queue   *queue      // nil where opened for reading only
	stop    context.CancelFunc
	ticking sync.WaitGroup

	mu       sync.Mutex // guards watchers
	watchers []watcher

	rows, decoded atomic.Int64 // rows read and entries decoded by readers, for counted tests
}

// readerPool bounds the connections for reading: each has its own page cache.
const readerPool = 8

// Open opens the record for reading and writing; it makes the file, or brings
// it to today's shape. A file of a newer program is refused: Conflict,
// store.schema-newer.
func Open(ctx context.Context, path string, o Options) (*Store, error) {
	if err := migrate(ctx, path); err != nil {
		return nil, fmt.Errorf("open record %s: %w", path, translate(err))
	}
	s, err := openReaders(ctx, path, o.filled())
	if err != nil {
		return nil, err
	}
	if s.queue, err = startQueue(ctx, s); err != nil {
		return nil, errors.Join(fmt.Errorf("open record %s: %w", path, translate(err)), s.readers.Close())
	}
	run, stop := context.WithCancel(context.Background())
	s.stop = stop
	s.ticking.Go(func() { s.checkpoints(run) })
	return s, nil
}

// OpenReadOnly opens a record for reading. The error is a *fault.Error of kind
// NotFound (store.no-file) or Conflict (store.schema-older, store.schema-newer,
// store.not-a-record).
func OpenReadOnly(ctx context.Context, path string) (*Store, error) {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, fault.Wrap(err, fault.NotFound, "store.no-file", "file", path)
	}
	s, err := openReaders(ctx, path, Options{}.filled())
	if err != nil {
		return nil, err
	}
	if err := checkVersion(ctx, s.readers, path); err != nil {
		return nil, errors.Join(err, s.readers.Close())
	}
	return s, nil
}

// openReaders opens the pool for reading and prepares its statements.
func openReaders(ctx context.Context, path string, o Options) (*Store, error) {
	db, err := sql.Open("sqlite", source(path, "mode=ro", "_query_only=1"))
	if err != nil {
		return nil, fmt.Errorf("open record %s for reading: %w", path, err)
	}
	db.SetMaxOpenConns(readerPool)
	db.SetMaxIdleConns(readerPool)
	s := &Store{path: path, options: o, readers: db, stmts: make([]*sql.Stmt, len(statements)), stop: func() {}}
	if err := s.prepare(ctx); err != nil {
		// A file without today's tables is told apart in words.
		if other := checkVersion(ctx, db, path); other != nil {
			err = other
		}
		return nil, errors.Join(fmt.Errorf("open record %s for reading: %w", path, translate(err)), db.Close())
	}
	return s, nil
}

func (s *Store) prepare(ctx context.Context) error {
	for _, st := range statements {
		if st.use != reading {
			continue
		}
		prepared, err := s.readers.PrepareContext(ctx, st.text)
		if err != nil {
			return fmt.Errorf("prepare %s: %w", st.name, err)
		}
		s.stmts[st.at] = prepared
	}
	return nil
}

// source is the driver's name for the file. The prefix matters: without it
// SQLite ignores the parameters.
func source(path string, more ...string) string {
	name := "file:" + (&url.URL{Path: filepath.ToSlash(path)}).EscapedPath() +
		"?_busy_timeout=5000&_dqs=0&_defensive=1&_foreign_keys=1"
	for _, m := range more {
		name += "&" + m
	}
	return name
}

// forWriting are the parameters of a connection that writes. The log is folded
// back by checkpoints, on a connection of their own; the limit here is for
// when there is no quiet moment (16,000 pages of 4 KiB).
var forWriting = []string{
	"_journal_mode=WAL", "_synchronous=FULL", "_txlock=immediate", "_pragma=wal_autocheckpoint(16000)", "_pragma=secure_delete(1)",
	"_pragma=temp_store(2)",
}

// Close ends the store. What was begun is finished; what is still waiting is
// refused. The connection that writes goes last: where no other program has the
// file open, it folds the log in, and the file alone is the whole record.
func (s *Store) Close() error {
	s.stop()
	s.ticking.Wait()
	if s.queue == nil {
		return s.readers.Close()
	}
	s.queue.end()
	return errors.Join(s.readers.Close(), s.queue.close())
}

// checkpoints folds the log into the file while nobody is writing.
func (s *Store) checkpoints(ctx context.Context) {
	db, err := sql.Open("sqlite", source(s.path, "_synchronous=FULL"))
	if err != nil {
		return // the writer folds the log itself when it grows long
	}
	defer func() { _ = db.Close() }()
	db.SetMaxOpenConns(1)
	ticker := time.NewTicker(s.options.Checkpoint)
	defer ticker.Stop()
	var folded int64
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
		if n := s.queue.commits.Load(); n != folded && s.queue.quiet() {
			// Passive: it waits for nobody and nobody waits for it.
			if _, err := db.ExecContext(ctx, "PRAGMA wal_checkpoint(PASSIVE)"); err == nil {
				folded = n
			}
		}
	}
}

// Size is the bytes of the record on disk: the file, and its log.
func (s *Store) Size() (int64, error) {
	file, err := os.Stat(s.path)
	if err != nil {
		return 0, err
	}
	size := file.Size()
	if log, err := os.Stat(s.path + "-wal"); err == nil {
		size += log.Size()
	} else if !errors.Is(err, fs.ErrNotExist) {
		return 0, err
	}
	return size, nil
}
