// Package demo invents a hospital: wards, staff, and some months of patients
// with their lines, from a seed. The same seed and the same now give the same
// entries to the byte. Nothing in it exists.
package demo

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"dwellbook/internal/line"
)

// Options says what to invent.
type Options struct {
	Seed   uint64
	Now    time.Time
	Days   int    // of history; 0: 90
	Policy []byte // the policy in force from the start
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
	Entries []line.Entry // in the order recorded
	Staff   []Person
}

// habit is how a ward works; most of them work well.
type habit struct {
	name        string
	beds        int
	shifts      []line.ShiftTime
	every       int     // minutes, of a clock ward
	nightLook   float64 // chance that a night's look is recorded
	newDressing float64 // chance that an old dressing is changed in time
	dwellHours  float64 // mean
}

const wallZone = "Europe/London"

var habits = []habit{
	{name: "Alder", beds: 30, nightLook: 0.985, newDressing: 0.97, dwellHours: 70},
	{name: "Birch", beds: 30, nightLook: 0.62, newDressing: 0.97, dwellHours: 66},
	{name: "Cedar", beds: 28, nightLook: 0.98, newDressing: 0.25, dwellHours: 125},
	{name: "Hazel", beds: 28, shifts: []line.ShiftTime{7 * 60, 14 * 60, 21 * 60}, nightLook: 0.98, newDressing: 0.97, dwellHours: 60},
	{name: "Rowan", beds: 22, every: 480, nightLook: 0.99, newDressing: 0.98, dwellHours: 55},
	{name: "Willow", beds: 30, nightLook: 0.985, newDressing: 0.96, dwellHours: 68},
}

type ward struct {
	habit
	id     line.ID
	nurses []Person
}

type hospital struct {
	Options
	rng     *rand.Rand
	zone    *time.Location
	from    line.Minute
	now     line.Minute
	wards   []*ward
	doctors []Person
	trainee Person
	lead    Person
	out     Hospital
	refs    int
}

// Generate invents the hospital.
func Generate(o Options) (Hospital, error) {
	zone, err := time.LoadLocation(wallZone)
	if err != nil {
		return Hospital{}, fmt.Errorf("zone of the invented hospital: %w", err)
	}
	if o.Days == 0 {
		o.Days = 90
	}
	now := line.MinuteOf(o.Now)
	h := &hospital{
		Options: o, rng: rand.New(rand.NewPCG(o.Seed, 0x0d3e11b0)), zone: zone,
		now: now, from: now.Add(-time.Duration(o.Days) * 24 * time.Hour),
	}
	h.found()
	for _, w := range h.wards {
		for bed := range w.beds {
			h.fill(w, fmt.Sprint(bed+1))
		}
	}
	h.today()
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

func one[T any](h *hospital, of []T) T { return of[h.rng.IntN(len(of))] }

// weighted chooses an index by weight.
func (h *hospital) weighted(weights ...int) int {
	sum := 0
	for _, w := range weights {
		sum += w
	}
	at := h.rng.IntN(sum)
	for i, w := range weights {
		if at -= w; at < 0 {
			return i
		}
	}
	return 0
}

// record writes an entry down, mostly minutes after it happened, and gives
// whether it was: nothing happens after now.
func (h *hospital) record(by line.ID, at line.Minute, body line.Body, subject, of line.ID) (line.ID, bool) {
	if at > h.now {
		return "", false
	}
	late := h.minutes(0, 7)
	if h.chance(0.02) {
		late = h.minutes(60, 400)
	}
	recorded := min(at.Add(late), h.now)
	e := line.Entry{
		Version: line.FormatVersion, ID: h.id(), Kind: body.Kind(), Subject: subject, Line: of, Author: by, Happened: at,
		Precision: line.ToMinute, Recorded: recorded.Time().Add(time.Duration(h.rng.IntN(59_000)) * time.Millisecond), Body: body,
	}
	h.out.Entries = append(h.out.Entries, e)
	return e.ID, true
}

// found makes the house: its name, wards, policy and people.
func (h *hospital) found() {
	start := h.from.Add(-24 * time.Hour)
	house := func(body line.Body) {
		h.out.Entries = append(h.out.Entries, line.Entry{
			Version: line.FormatVersion, ID: h.id(), Kind: body.Kind(), Author: "system", Happened: start, Precision: line.ToMinute,
			Recorded: start.Time().Add(time.Duration(len(h.out.Entries)) * time.Millisecond), Body: body,
		})
	}
	house(line.Hospital{Name: "Larkwell Infirmary (invented)", Zone: wallZone, Reference: "[A-Z]{2}-[0-9]{3,4}", Example: "KD-204"})
	if len(h.Policy) > 0 {
		house(line.Policy{TOML: string(h.Policy)})
	}
	person := func(signIn, name, initials, role string, ward line.ID) Person {
		p := Person{ID: h.id(), SignIn: signIn, Name: name, Role: role, Ward: ward}
		h.out.Staff = append(h.out.Staff, p)
		house(line.Account{Account: p.ID, SignIn: signIn, Name: line.Text(name), Initials: line.Text(initials), Role: role})
		return p
	}
	names := staffNames()
	next := func() (string, string) { n := names[0]; names = names[1:]; return n[0], n[1] }
	for _, hb := range habits {
		w := &ward{habit: hb, id: h.id()}
		var beds []string
		for bed := range hb.beds {
			beds = append(beds, fmt.Sprint(bed+1))
		}
		house(line.Ward{Ward: w.id, Name: hb.name, Zone: wallZone, Shifts: hb.shifts, Every: hb.every, Beds: beds})
		for i := range 4 {
			name, initials := next()
			w.nurses = append(w.nurses, person(fmt.Sprintf("nurse.%s%d", lower(hb.name), i+1), name, initials, "nurse", w.id))
		}
		h.wards = append(h.wards, w)
	}
	for i := range 6 {
		name, initials := next()
		h.doctors = append(h.doctors, person(fmt.Sprintf("doctor%d", i+1), name, initials, "doctor", ""))
	}
	h.trainee = h.doctors[0]
	name, initials := next()
	h.lead = person("lead", name, initials, "lead", "")
	name, initials = next()
	person("admin", name, initials, "administrator", "")
}

func lower(s string) string { return string(s[0]+'a'-'A') + s[1:] }

// staffNames are invented, from many backgrounds.
func staffNames() [][2]string {
	first := []string{"Nell", "Tariq", "Oluchi", "Bronwen", "Mateo", "Ines", "Kwame", "Sunniva", "Devika", "Piotr", "Leilani", "Anouk"}
	last := []string{"Ashdown", "Qadir", "Ebele", "Pryce", "Solano", "Varela", "Antwi", "Lunde", "Raman", "Zielik", "Kahale", "Mercier"}
	var names [][2]string
	for i := range 36 {
		f, l := first[i%12], last[(i*5+i/12+3)%12]
		names = append(names, [2]string{f + " " + l, f[:1] + l[:1]})
	}
	return names
}

// reference is a patient's, in the hospital's pattern and never twice.
func (h *hospital) reference() line.Text {
	h.refs++
	n := h.refs * 7919 % (26 * 26 * 900)
	return line.Text(fmt.Sprintf("%c%c-%03d", 'A'+n/900/26, 'A'+n/900%26, 100+n%900))
}

func byTime(a, b line.Minute) int { return cmp.Compare(a, b) }
