// Package demo invents a hospital: wards, staff, and some months of patients
// with their lines, from a seed. The same seed and the same now give the same
// entries to the byte. Nothing in it exists, and its rates are invented.
package demo

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// LeastDays of history hold everything that a lead should find today.
const LeastDays = 14

// Options says what to invent.
type Options struct {
	Seed   uint64
	Now    time.Time
	Days   int    // of history, LeastDays at least; 0: 90
	Policy []byte // the policy in force from the start; nil: no entry, the default holds
}

// Person is one of the staff. Passphrases are set by whoever makes the record.
type Person struct {
	ID           line.ID
	SignIn, Name string
	Role         string
	Ward         line.ID // where they mostly work; empty for those of the whole house
}

// Hospital is what was invented.
type Hospital struct {
	Entries []line.Entry // in the order recorded, as another record would give them
	Staff   []Person
}

// hospital is the work in progress.
type hospital struct {
	Options
	rng       *rand.Rand
	zone      *time.Location
	from, now line.Minute
	book      *audit.Rulebook // for shift times, the policy's and the wards' own
	wards     []*ward
	doctors   []clinician // the trainee is the first
	lead      Person
	bays      [][]line.Stretch // when each bay of the ward that patients arrive in is taken
	out       Hospital
	refs      int
}

// Generate invents the hospital. Its errors are those of the options: too few
// days, or a policy that cannot be read.
func Generate(o Options) (Hospital, error) {
	if o.Days == 0 {
		o.Days = 90
	}
	if o.Days < LeastDays {
		return Hospital{}, fmt.Errorf("%d days of history: at least %d are needed", o.Days, LeastDays)
	}
	zone, err := time.LoadLocation(wallZone)
	if err != nil {
		return Hospital{}, fmt.Errorf("zone of the invented hospital: %w", err)
	}
	now := line.MinuteOf(o.Now)
	h := &hospital{
		Options: o, rng: rand.New(rand.NewPCG(o.Seed, 0x0d3e11b0)), zone: zone, // #nosec G404 -- what is invented must come out the same from its number
		now: now, from: now.Add(-time.Duration(o.Days) * 24 * time.Hour),
	}
	if err := h.found(); err != nil {
		return Hospital{}, err
	}
	for _, w := range h.wards {
		for bed := range w.beds {
			h.fill(w, fmt.Sprint(bed+1))
		}
	}
	h.today()
	own := h.learning()
	own.tick()
	h.mistakes()
	own.answer()
	slices.SortStableFunc(h.out.Entries, func(a, b line.Entry) int { return a.Recorded.Compare(b.Recorded) })
	return h.out, nil
}

func (h *hospital) id() line.ID {
	return line.ID(fmt.Sprintf("%016x%016x", h.rng.Uint64(), h.rng.Uint64()))
}

func (h *hospital) chance(p float64) bool { return h.rng.Float64() < p }

// minutes is a random number of minutes in [from, to).
func (h *hospital) minutes(from, to int) time.Duration {
	return time.Duration(from+h.rng.IntN(max(1, to-from))) * time.Minute
}

func one[T any](h *hospital, of ...T) T { return of[h.rng.IntN(len(of))] }

// share is something with the weight with which it is chosen.
type share[T any] struct {
	of     T
	weight int
}

// choose picks by weight.
func choose[T any](h *hospital, from []share[T]) T {
	sum := 0
	for _, s := range from {
		sum += s.weight
	}
	at := h.rng.IntN(sum)
	for _, s := range from {
		if at -= s.weight; at < 0 {
			return s.of
		}
	}
	return from[0].of
}

// progress is how far into the history a moment lies, 0 to 1.
func (h *hospital) progress(at line.Minute) float64 {
	return float64(at-h.from) / float64(h.now-h.from)
}

// write records an entry soon after it happened; looks and dressings now and
// then hours late, when the shift's writing is caught up. It gives nil for
// what has not happened yet. The entry may be changed until the next is written.
func (h *hospital) write(by line.ID, at line.Minute, body line.Body) *line.Entry {
	if at > h.now {
		return nil
	}
	late := time.Duration(h.rng.IntN(90_000)) * time.Millisecond
	switch body.Kind() {
	case line.KindReview, line.KindDressing, line.KindSiteCheck:
		late += h.minutes(0, 7)
		if h.chance(0.02) {
			late = h.minutes(60, 400)
		}
	}
	recorded := at.Time().Add(late)
	if now := h.Now.UTC().Truncate(time.Millisecond); recorded.After(now) {
		recorded = at.Time().Add(time.Duration(h.rng.Float64() * float64(now.Sub(at.Time())))).Truncate(time.Millisecond)
	}
	h.out.Entries = append(h.out.Entries, line.Entry{
		Version: line.FormatVersion, ID: h.id(), Kind: body.Kind(), Author: by, Happened: at,
		Precision: line.ToMinute, Recorded: recorded, Body: body,
	})
	return &h.out.Entries[len(h.out.Entries)-1]
}

// reference is a patient's, in the hospital's pattern and never twice.
func (h *hospital) reference() line.Text {
	h.refs++
	n := h.refs * 7919 % (26 * 26 * 900)
	return line.Text(fmt.Sprintf("%c%c-%03d", 'A'+n/900/26, 'A'+n/900%26, 100+n%900))
}
