package desk

import (
	"slices"
	"sync"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// caseCache keeps each subject's assessment until something about the subject
// changes or the assessment ceases to be true by itself.
type caseCache struct {
	mu      sync.Mutex
	kept    map[line.Key]*audit.Assessment
	version uint64 // rises with every change, so that a slow reader puts nothing stale
}

// mostKept bounds the cache: about ten times the beds of a large hospital.
const mostKept = 20_000

func newCaseCache() *caseCache { return &caseCache{kept: map[line.Key]*audit.Assessment{}} }

func (c *caseCache) get(subject line.Key, now line.Minute) *audit.Assessment {
	c.mu.Lock()
	defer c.mu.Unlock()
	a := c.kept[subject]
	if a == nil || now < a.At || now >= a.ValidUntil {
		return nil
	}
	return a
}

func (c *caseCache) mark() uint64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.version
}

func (c *caseCache) put(subject line.Key, a *audit.Assessment, since uint64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.version != since {
		return
	}
	if len(c.kept) >= mostKept {
		clear(c.kept)
	}
	c.kept[subject] = a
}

func (c *caseCache) forget(change line.Change) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.version++
	if change.All || change.House {
		clear(c.kept)
		return
	}
	for _, s := range change.Subjects {
		delete(c.kept, s)
	}
}

// hub tells those who watch a ward's board that something on it changed.
type hub struct {
	mu       sync.Mutex
	watchers map[chan struct{}]line.Key
	versions map[line.Key]uint64
	all      uint64
}

func newHub() *hub {
	return &hub{watchers: map[chan struct{}]line.Key{}, versions: map[line.Key]uint64{}}
}

func (h *hub) publish(c line.Change) {
	h.mu.Lock()
	defer h.mu.Unlock()
	everything := c.All || c.House
	if everything {
		h.all++
	}
	for _, w := range c.Wards {
		h.versions[w]++
	}
	for ch, ward := range h.watchers {
		if everything || slices.Contains(c.Wards, ward) {
			select {
			case ch <- struct{}{}:
			default: // it has a notice waiting already
			}
		}
	}
}

// open is how many watch.
func (h *hub) open() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.watchers)
}

// version rises whenever something on the ward may have changed.
func (h *hub) version(ward line.Key) uint64 {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.versions[ward] + h.all
}

// watch gives a channel that gets a value after changes on the ward, until stop.
func (h *hub) watch(ward line.Key) (changes <-chan struct{}, stop func()) {
	ch := make(chan struct{}, 1)
	h.mu.Lock()
	defer h.mu.Unlock()
	h.watchers[ch] = ward
	return ch, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		delete(h.watchers, ch)
	}
}
