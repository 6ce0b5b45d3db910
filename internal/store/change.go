package store

import (
	"maps"
	"slices"

	"dwellbook/internal/line"
)

type watcher func(line.Change)

// OnChange calls f after each commit, before whoever wrote is answered, and
// when another process has written (All). f must not write to the store.
func (s *Store) OnChange(f func(line.Change)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.watchers = append(s.watchers, f)
}

// tell calls the watchers, none of which may hold the lock: they may read.
func (s *Store) tell(c line.Change) {
	s.mu.Lock()
	watchers := slices.Clone(s.watchers)
	s.mu.Unlock()
	for _, f := range watchers {
		f(c)
	}
}

// change gathers what one act of writing touched.
type change struct {
	subjects, wards map[line.Key]struct{}
	house, all      bool
}

func (c *change) subject(key line.Key) { c.subjects = add(c.subjects, key) }

func (c *change) ward(key line.Key) {
	if key != 0 {
		c.wards = add(c.wards, key)
	}
}

func add(set map[line.Key]struct{}, key line.Key) map[line.Key]struct{} {
	if set == nil {
		set = map[line.Key]struct{}{}
	}
	set[key] = struct{}{}
	return set
}

func (c *change) join(o change) {
	for k := range o.subjects {
		c.subject(k)
	}
	for k := range o.wards {
		c.ward(k)
	}
	c.house = c.house || o.house
	c.all = c.all || o.all
}

// sum is the change as watchers get it; any is false where nothing of the record was touched.
func (c *change) sum() (line.Change, bool) {
	sum := line.Change{
		Subjects: slices.Sorted(maps.Keys(c.subjects)), Wards: slices.Sorted(maps.Keys(c.wards)),
		House: c.house, All: c.all,
	}
	return sum, c.all || c.house || len(sum.Subjects) > 0
}
