package demo

import (
	"fmt"
	"time"

	"dwellbook/internal/line"
)

// today adds what a lead should find today: each in a bed of its own, beyond
// the ward's numbered ones.
func (h *hospital) today() {
	ago := func(d time.Duration) line.Minute { return h.now.Add(-d) }
	someone := func(n int, d time.Duration) (*stay, line.ID, line.Minute) {
		w := h.wards[n%len(h.wards)]
		s := &stay{h: h, w: w, subject: h.id(), until: line.Far}
		h.extra(s, n, ago(d+40*time.Minute))
		return s, one(h, w.nurses).ID, ago(d)
	}
	place := func(s *stay, by line.ID, at line.Minute, o line.Occasion) line.ID {
		o.Outcome, o.Dressing = line.WithLine, line.Film
		o.Attempts = []line.Attempt{{Operator: line.Operator{Account: by}, Site: o.Site, Side: o.Side, Gauge: o.Gauge}}
		if o.Asepsis == 0 {
			o.Asepsis = line.AsepsisFull
		}
		id := h.id()
		h.record(by, at, o, s.subject, id)
		return id
	}
	look := func(s *stay, id line.ID, every, until time.Duration, from line.Minute) {
		for m := from.Add(every); m < ago(until); m = m.Add(every) {
			h.record(one(h, s.w.nurses).ID, m, line.Review{Dressing: line.SetOf(line.Intact), Needed: line.Yes}, s.subject, id)
		}
	}

	// A score of 2 recorded an hour and a half ago, the line still in.
	s, by, at := someone(0, 60*time.Hour)
	id := place(s, by, at, line.Occasion{Site: line.Forearm, Side: line.Right, Gauge: 20})
	look(s, id, 9*time.Hour, 2*time.Hour, at)
	h.record(by, ago(95*time.Minute), line.Review{Signs: line.SetOf(line.Pain, line.Redness), Dressing: line.SetOf(line.Intact), Needed: line.Yes}, s.subject, id)

	// Placed by an ambulance crew, nobody knows how clean.
	s, by, at = someone(3, 11*time.Hour)
	id = h.id()
	h.record(by, at, line.Occasion{
		Outcome: line.WithLine, Site: line.ElbowCrease, Side: line.Left, Gauge: 18, Asepsis: line.AsepsisNotKnown, PlacedBy: line.Ambulance,
		Operator: line.Operator{Written: "ambulance crew"}, Purposes: line.SetOf(line.ForEmergency), Dressing: line.Film,
	}, s.subject, id)
	look(s, id, 4*time.Hour, time.Hour, at)

	// Two lines that nobody recorded out.
	for n := range 2 {
		s, by, at = someone(1+n*4, time.Duration(6+n)*24*time.Hour)
		id = place(s, by, at, line.Occasion{Site: line.HandDorsum, Side: line.Left, Gauge: 22})
		look(s, id, 10*time.Hour, 88*time.Hour, at)
	}

	// A small line in the elbow crease that nobody has looked at for two shifts.
	s, by, at = someone(1, 61*time.Hour)
	id = place(s, by, at, line.Occasion{Site: line.ElbowCrease, Side: line.Left, Gauge: 22})
	look(s, id, 8*time.Hour, 37*time.Hour, at)

	// Dressings older than the policy's age on a ward that is slow to change them.
	for n := range 3 {
		s, by, at = someone(2+n*6, time.Duration(7*24+6+n*9)*time.Hour)
		id = place(s, by, at, line.Occasion{Site: line.UpperArm, Side: line.Right, Gauge: 20})
		look(s, id, 7*time.Hour, time.Hour, at)
	}

	// A line in the arm with a fistula, answered for by a named clinician.
	s, by, at = someone(5, 20*time.Hour)
	h.record(by, at-30, line.Facts{Limits: []line.Limit{{Limb: line.LeftArm, Why: line.Fistula}}}, s.subject, "")
	id = place(s, by, at, line.Occasion{Site: line.Forearm, Side: line.Left, Gauge: 20, Purposes: line.SetOf(line.ForEmergency)})
	h.record(by, at, line.Justification{
		Rule: "limb-restricted", Clinician: "Dr Varela", Why: "no other vein found, renal team told", Until: at.Add(30 * time.Hour),
	}, s.subject, id)
	look(s, id, 5*time.Hour, time.Hour, at)

	// Not used for more than a day; a site not seen because the patient was away.
	s, by, at = someone(4, 50*time.Hour)
	id = place(s, by, at, line.Occasion{Site: line.Wrist, Side: line.Right, Gauge: 22})
	for m := at.Add(6 * time.Hour); m < ago(time.Hour); m = m.Add(6 * time.Hour) {
		h.record(by, m, line.Review{Dressing: line.SetOf(line.Intact), Needed: line.Yes, Used: line.No}, s.subject, id)
	}
	h.record(by, ago(30*time.Minute), line.NotSeen{Why: line.OffWard, Returns: h.now.Add(time.Hour)}, s.subject, id)
	h.mistakes()
}

// extra admits a patient to a bed beside the numbered ones.
func (h *hospital) extra(s *stay, n int, at line.Minute) {
	h.record(one(h, s.w.nurses).ID, at, line.Admission{
		Ward: s.w.id, Bed: line.Text(fmt.Sprintf("side %d", n+1)), Reference: h.reference(),
	}, s.subject, "")
}

// mistakes corrects a few reviews and withdraws one, as people do.
func (h *hospital) mistakes() {
	const each = 700
	n := 0
	for _, e := range h.out.Entries {
		b, ok := e.Body.(line.Review)
		if !ok || e.Happened > h.now-600 {
			continue
		}
		if n++; n%each != 0 {
			continue
		}
		body := line.Body(line.Void{Root: e.ID, Seen: e.ID, Why: "recorded on the wrong patient"})
		if n != each {
			b.Used = line.Yes
			fixed := e
			fixed.Body, fixed.Recorded = b, time.Time{}
			body = line.Correction{Root: e.ID, Seen: e.ID, Why: "it was used in the night", Replacement: fixed}
		}
		recorded := e.Recorded.Add(h.minutes(5, 100))
		if recorded.After(h.now.Time()) {
			continue
		}
		h.out.Entries = append(h.out.Entries, line.Entry{
			Version: line.FormatVersion, ID: h.id(), Kind: body.Kind(), Subject: e.Subject, Author: e.Author,
			Happened: line.MinuteOf(recorded), Precision: line.ToMinute, Recorded: recorded, Body: body,
		})
	}
}
