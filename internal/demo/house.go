package demo

import (
	"fmt"
	"strings"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

const wallZone = "Europe/London"

// habit is how a ward works; most of them work well.
type habit struct {
	name        string
	beds        int
	bays        int              // where patients arrive who move on to another ward
	shifts      []line.ShiftTime // nil: the policy's
	every       int              // minutes, of a clock ward
	dayLook     float64          // chance that a day's look is made
	nightLook   float64
	newDressing float64 // chance, at each look, that a dressing that wants changing is changed
	dwell       float64 // mean hours beyond the first eight
}

var habits = []habit{
	{name: "Alder", beds: 30, dayLook: 0.99, nightLook: 0.99, newDressing: 0.95, dwell: 80},
	{name: "Birch", beds: 28, dayLook: 0.985, nightLook: 0.62, newDressing: 0.95, dwell: 78},
	{name: "Cedar", beds: 26, dayLook: 0.99, nightLook: 0.985, newDressing: 0.2, dwell: 110},
	{name: "Hazel", beds: 16, shifts: []line.ShiftTime{7 * 60, 14 * 60, 21 * 60}, dayLook: 0.99, nightLook: 0.985, newDressing: 0.95, dwell: 76},
	{name: "Rowan", beds: 11, bays: 8, every: 480, dayLook: 0.99, nightLook: 0.99, newDressing: 0.95, dwell: 66},
	{name: "Willow", beds: 30, dayLook: 0.99, nightLook: 0.985, newDressing: 0.95, dwell: 82},
}

// Places of the wards in habits, for what is to be found on one of them.
const (
	alder = iota
	birch
	cedar
	hazel
	rowan
	willow
)

// sideRooms of each ward stand beyond the numbered beds.
const sideRooms = 4

type ward struct {
	habit
	id     line.ID
	key    line.Key // in the rulebook
	nurses []clinician
	side   int // side rooms taken
}

// clinician is a person who places lines: fails is the chance that a first
// attempt does.
type clinician struct {
	Person
	initials string
	fails    float64
}

// nurse is one of those on duty: half of them work days, half nights.
func (w *ward) nurse(h *hospital, at line.Minute) clinician {
	half := len(w.nurses) / 2
	if hour := at.Time().In(h.zone).Hour(); hour >= 8 && hour < 20 {
		return one(h, w.nurses[:half]...)
	}
	return one(h, w.nurses[half:]...)
}

// founding writes the house's own entries, all from before the first patient.
type founding struct {
	*hospital
	start line.Minute
	names [][2]string
}

func (f *founding) write(by line.ID, body line.Body) {
	f.out.Entries = append(f.out.Entries, line.Entry{
		Version: line.FormatVersion, ID: f.id(), Kind: body.Kind(), Author: by, Happened: f.start, Precision: line.ToMinute,
		Recorded: f.start.Time().Add(time.Duration(len(f.out.Entries)) * time.Millisecond), Body: body,
	})
}

func (f *founding) hire(signIn, role string, ward line.ID) clinician {
	name := f.names[0]
	f.names = f.names[1:]
	p := Person{ID: f.id(), SignIn: signIn, Name: name[0], Role: role, Ward: ward}
	f.out.Staff = append(f.out.Staff, p)
	f.write("system", line.Account{Account: p.ID, SignIn: signIn, Name: line.Text(name[0]), Initials: line.Text(name[1]), Role: role})
	return clinician{Person: p, initials: name[1], fails: 0.1 + 0.14*f.rng.Float64()}
}

// found makes the house: its name, policy, wards and people.
func (h *hospital) found() error {
	f := &founding{hospital: h, start: h.from.Add(-24 * time.Hour), names: staffNames()}
	f.write("system", line.Hospital{
		Name: "Larkwell Infirmary (invented)", Zone: wallZone, Reference: "[A-Z]{2}-[0-9]{3,4}", Example: "KD-204",
	})
	var changes []audit.Change
	if len(h.Policy) > 0 {
		policy, err := audit.ParsePolicy("policy of the invented hospital", h.Policy)
		if err != nil {
			return err
		}
		f.write("system", line.Policy{TOML: string(h.Policy)})
		changes = append(changes, audit.Change{From: f.start, Policy: policy})
	}
	for i, habit := range habits {
		w := &ward{habit: habit, id: h.id(), key: line.Key(i + 1)}
		f.write("system", line.Ward{Ward: w.id, Name: w.name, Zone: wallZone, Shifts: w.shifts, Every: w.every, Beds: w.bedNames()})
		changes = append(changes, audit.Change{From: f.start, Ward: w.key, Values: audit.WardValues{
			Zone: h.zone, Shifts: w.shifts, Every: time.Duration(w.every) * time.Minute,
		}})
		for n := range 4 {
			w.nurses = append(w.nurses, f.hire(fmt.Sprintf("nurse.%s%d", strings.ToLower(w.name), n+1), "nurse", w.id))
		}
		h.bays = append(h.bays, make([][]line.Stretch, w.bays)...)
		h.wards = append(h.wards, w)
	}
	for i := range 6 {
		h.doctors = append(h.doctors, f.hire(fmt.Sprintf("doctor%d", i+1), "doctor", ""))
	}
	h.lead = f.hire("lead", "lead", "").Person
	f.link(f.hire("admin", "administrator", "").ID)
	h.book = audit.NewRulebook(changes)
	return nil
}

// link offers two doctors the initials they sign with on paper; one accepts.
func (f *founding) link(admin line.ID) {
	trainee, other := f.doctors[0], f.doctors[1]
	for _, d := range []clinician{trainee, other} {
		f.write(admin, line.OperatorLink{Written: line.Text(d.initials), Account: d.ID})
	}
	f.write(trainee.ID, line.OperatorLink{Written: line.Text(trainee.initials), Account: trainee.ID, Accepted: line.Yes})
}

func (w *ward) bedNames() []string {
	var beds []string
	for n := range w.beds {
		beds = append(beds, fmt.Sprint(n+1))
	}
	for n := range w.bays {
		beds = append(beds, bayName(n))
	}
	for n := range sideRooms {
		beds = append(beds, sideName(n))
	}
	return beds
}

func bayName(n int) string  { return fmt.Sprintf("bay %d", n+1) }
func sideName(n int) string { return fmt.Sprintf("side %d", n+1) }

// staffNames are invented, from many backgrounds, each with its initials.
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
