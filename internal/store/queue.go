package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// mostTogether bounds the jobs of one transaction, so that none waits long.
const mostTogether = 256

// queue is the one way to write: a goroutine that owns the write connection
// and commits together what is waiting.
type queue struct {
	store   *Store
	db      *sql.DB
	w       *writer
	jobs    chan *job
	closing chan struct{} // closed when no more jobs are taken
	closed  chan struct{} // closed when the goroutine has ended
	once    sync.Once
	commits atomic.Int64 // transactions committed
	busy    atomic.Int64 // jobs waiting or running
	version int64        // the file's data version, as last seen
}

// job is one act of writing. alone: it wants the connection to itself, outside
// of any transaction.
type job struct {
	run    func(*writer) (change, error)
	alone  bool
	taken  atomic.Bool // by the goroutine, or given up by who asked
	change change
	done   chan error
}

// startQueue opens the write connection and starts its goroutine.
func startQueue(ctx context.Context, s *Store) (*queue, error) {
	db, err := sql.Open("sqlite", source(s.path, forWriting...))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	w, err := newWriter(ctx, db, s)
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	q := &queue{
		store: s, db: db, w: w, jobs: make(chan *job, mostTogether),
		closing: make(chan struct{}), closed: make(chan struct{}),
	}
	if q.version, err = w.dataVersion(); err != nil {
		return nil, errors.Join(err, w.close(), db.Close())
	}
	go q.run()
	return q, nil
}

// write runs f inside a transaction, in a savepoint of its own, and returns
// once that is on the disk. When ctx ends before f has begun, nothing happens.
func (s *Store) write(ctx context.Context, f func(*writer) (change, error)) error {
	return s.submit(ctx, &job{run: f, done: make(chan error, 1)})
}

// submit hands a job to the queue and waits. A job that has begun is waited for
// even when ctx ends, since who asked must learn whether it was stored.
func (s *Store) submit(ctx context.Context, j *job) error {
	if s.queue == nil {
		return fault.New(fault.Conflict, "store.read-only")
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	q := s.queue
	q.busy.Add(1)
	defer q.busy.Add(-1)
	select {
	case q.jobs <- j:
	case <-q.closing:
		return fault.New(fault.Busy, "store.closed")
	case <-ctx.Done():
		return ctx.Err()
	}
	select {
	case err := <-j.done:
		return translate(err)
	case <-q.closed:
	case <-ctx.Done():
		if j.taken.CompareAndSwap(false, true) {
			return ctx.Err()
		}
		return translate(<-j.done) // begun: what came of it must be known
	}
	select {
	case err := <-j.done:
		return translate(err)
	default:
		return fault.New(fault.Busy, "store.closed")
	}
}

// Waiting is how many acts of writing are waiting or running.
func (s *Store) Waiting() int64 {
	if s.queue == nil {
		return 0
	}
	return s.queue.busy.Load()
}

// quiet reports whether nobody is writing.
func (q *queue) quiet() bool { return q.busy.Load() == 0 }

// end ends the goroutine after what it is doing. Jobs still waiting are told
// that the store is closed.
func (q *queue) end() {
	q.once.Do(func() { close(q.closing) })
	<-q.closed
}

// close gives up the write connection, once the goroutine has ended.
func (q *queue) close() error {
	return errors.Join(q.w.close(), q.db.Close())
}

func (q *queue) run() {
	defer close(q.closed)
	ticker := time.NewTicker(q.store.options.Poll)
	defer ticker.Stop()
	for {
		select {
		case <-q.closing:
			return
		case <-ticker.C:
			q.look()
		case first := <-q.jobs:
			q.together(first)
		}
	}
}

// look reports what another process has written.
func (q *queue) look() {
	v, err := q.w.dataVersion()
	if err != nil || v == q.version {
		return // an error will show in the next job, which has somebody to tell
	}
	q.version = v
	q.store.tell(line.Change{All: true})
}

// together runs first and what is waiting behind it.
func (q *queue) together(first *job) {
	runtime.Gosched() // those just about to ask come along: one sync serves them all
	batch := []*job{first}
	for len(batch) < mostTogether && !batch[len(batch)-1].alone {
		select {
		case j := <-q.jobs:
			batch = append(batch, j)
			continue
		default:
		}
		break
	}
	last := batch[len(batch)-1]
	if last.alone {
		batch = batch[:len(batch)-1]
	}
	if len(batch) > 0 {
		q.commit(batch)
	}
	if last.alone && last.taken.CompareAndSwap(false, true) {
		var err error
		last.change, err = last.run(q.w)
		q.after(last)
		last.done <- err
	}
}

// commit runs the jobs in one transaction. A job that fails leaves no trace
// and the others stand.
func (q *queue) commit(batch []*job) {
	errs := make([]error, len(batch))
	err := q.w.begin()
	stored := 0
	for i, j := range batch {
		if !j.taken.CompareAndSwap(false, true) {
			batch[i] = nil
			continue
		}
		if err != nil {
			continue
		}
		if len(batch) == 1 { // the transaction is its savepoint
			j.change, errs[i] = j.run(q.w)
		} else {
			errs[i], err = q.inSavepoint(j)
		}
		if errs[i] == nil && err == nil {
			stored++
		}
	}
	switch {
	case err == nil && stored > 0:
		err = q.w.exec(commit)
	case err == nil:
		err = q.w.exec(rollback)
	}
	if err != nil {
		_ = q.w.exec(rollback) // some errors have rolled back already
		q.w.forget()
		for i := range errs {
			errs[i] = errors.Join(errs[i], err)
		}
	} else if stored > 0 {
		q.commits.Add(1)
		q.after(storedOf(batch, errs)...)
	}
	for i, j := range batch {
		if j != nil {
			j.done <- errs[i]
		}
	}
}

// storedOf gives the jobs that were stored.
func storedOf(batch []*job, errs []error) []*job {
	var good []*job
	for i, j := range batch {
		if j != nil && errs[i] == nil {
			good = append(good, j)
		}
	}
	return good
}

// inSavepoint runs one job. The second error is of the transaction itself.
func (q *queue) inSavepoint(j *job) (failed, broken error) {
	if err := q.w.exec(savepoint); err != nil {
		return nil, err
	}
	if j.change, failed = j.run(q.w); failed != nil {
		q.w.last = nil
		if err := q.w.exec(rollbackTo); err != nil {
			return failed, fmt.Errorf("the transaction ended early: %w", failed)
		}
	}
	return failed, q.w.exec(release)
}

// after tells the watchers, before who asked is answered, so that whoever
// reads after writing reads what was written.
func (q *queue) after(jobs ...*job) {
	all := change{}
	for _, j := range jobs {
		all.join(j.change)
	}
	if c, any := all.sum(); any {
		q.store.tell(c)
	}
}

var (
	commit     = stated(writing, "commit", "COMMIT")
	rollback   = stated(writing, "roll back", "ROLLBACK")
	savepoint  = stated(writing, "set a savepoint", "SAVEPOINT job")
	rollbackTo = stated(writing, "roll back to the savepoint", "ROLLBACK TO job")
	release    = stated(writing, "release the savepoint", "RELEASE job")
	beginWrite = stated(writing, "begin to write", "BEGIN IMMEDIATE")
)
