package line

import "math"

// Mark is what the audit reads of one version of one entry, as integers only.
// An entry gives one mark, or several where it says several things (each limb
// restriction, each line left in). Known and Gone make "as known at" a filter.
type Mark struct {
	Subject, Line Key // Line is 0 where the entry is of the patient
	At            Minute
	Seq           int64 // place among the moments of one minute: the root entry's sequence number
	Part          int   // 0, 1, … within one entry
	Known         int64 // sequence number of this version
	Gone          int64 // sequence number of what replaced or withdrew it; 0: it stands
	Kind          Kind
	Precision     Precision
	Ward          Key
	Until         Minute // an end, a return, a keep-until, by kind; 0: none
	Detail
}

// StandsAt reports whether the version was the latest known once the entries
// with sequence numbers up to seq had been recorded.
func (m Mark) StandsAt(seq int64) bool {
	return m.Known <= seq && (m.Gone == 0 || m.Gone > seq)
}

// NoScore means that no score was given.
const NoScore = -1

// Detail holds the codes of a mark. Which of them a kind uses is in Marks.
type Detail struct {
	Outcome     Outcome
	Site        Site
	Side        Side
	Gauge       Gauge
	Asepsis     Asepsis
	PlacedBy    PlacedBy
	Material    Material
	Flush       Flush
	Used        Answer
	Needed      Answer
	Group       Group
	Limb        Limb
	Restriction Restriction
	Watch       Watch
	Absence     Absence
	Reason      Reason
	Infection   Infection
	Signs       Signs
	States      States
	Purposes    Purposes
	Score       int8 // 0 to 5, or NoScore
	Flags       Flags
	Attempts    uint8  // in the occasion, 0 not known
	MostByOne   uint8  // attempts by the operator with the most
	RuleTag     uint32 // of a justification
	NeedML      uint16 // flow needed, millilitres per hour
}

// Flags are yes-or-no facts of a mark.
type Flags uint8

// The flags.
const (
	Ends           Flags = 1 << iota // a restriction or watch ends here
	LeftIn                           // this line was left in at discharge on purpose
	Unobtainable                     // what is missing cannot be had
	OperatorNamed                    // somebody is named as operator
	ScoreFromSigns                   // the score was not given; it follows from the signs
)

// Has reports whether the flag is set.
func (f Flags) Has(o Flags) bool { return f&o != 0 }

// Codes of a mark on disk: three integers, each field in its own bits.
// Widths are final; the third word is full.
type packer struct {
	words [3]uint64
	word  int
	shift uint
}

func (p *packer) put(bits uint, v uint64) {
	p.words[p.word] |= (v & (1<<bits - 1)) << p.shift
	p.shift += bits
}

func (p *packer) get(bits uint) uint64 {
	v := p.words[p.word] >> p.shift & (1<<bits - 1)
	p.shift += bits
	return v
}

func (p *packer) next() { p.word, p.shift = p.word+1, 0 }

// Pack writes the codes as three integers.
func (d Detail) Pack() (a, b, c int64) {
	var p packer
	for _, f := range d.narrow() {
		p.put(f.bits, uint64(*f.code))
	}
	p.put(8, uint64(d.Gauge))
	p.next()
	p.put(20, uint64(d.Signs))
	p.put(8, uint64(d.States))
	p.put(12, uint64(d.Purposes))
	p.put(4, uint64(d.Score+1))
	p.put(8, uint64(d.Flags))
	p.put(2, uint64(d.NeedML>>14))
	p.next()
	p.put(8, uint64(d.Attempts))
	p.put(8, uint64(d.MostByOne))
	p.put(32, uint64(d.RuleTag))
	p.put(14, uint64(d.NeedML))
	p.put(2, uint64(d.Infection))
	return int64(p.words[0]), int64(p.words[1]), int64(p.words[2])
}

// Unpack reads what Pack wrote.
func Unpack(a, b, c int64) Detail {
	p := packer{words: [3]uint64{uint64(a), uint64(b), uint64(c)}}
	var d Detail
	for _, f := range d.narrow() {
		*f.code = uint8(p.get(f.bits))
	}
	d.Gauge = Gauge(p.get(8))
	p.next()
	d.Signs = Signs(p.get(20))
	d.States = States(p.get(8))
	d.Purposes = Purposes(p.get(12))
	d.Score = int8(p.get(4)) - 1
	d.Flags = Flags(p.get(8))
	d.NeedML = uint16(p.get(2)) << 14
	p.next()
	d.Attempts = uint8(p.get(8))
	d.MostByOne = uint8(p.get(8))
	d.RuleTag = uint32(p.get(32))
	d.NeedML |= uint16(p.get(14))
	d.Infection = Infection(p.get(2))
	return d
}

type field struct {
	bits uint
	code *uint8
}

// narrow lists the one-word codes with their widths, 54 bits together.
func (d *Detail) narrow() [16]field {
	return [16]field{
		{3, (*uint8)(&d.Outcome)}, {4, (*uint8)(&d.Site)}, {2, (*uint8)(&d.Side)}, {3, (*uint8)(&d.Asepsis)},
		{3, (*uint8)(&d.PlacedBy)}, {3, (*uint8)(&d.Material)}, {3, (*uint8)(&d.Flush)}, {2, (*uint8)(&d.Used)},
		{2, (*uint8)(&d.Needed)}, {2, (*uint8)(&d.Group)}, {3, (*uint8)(&d.Limb)}, {4, (*uint8)(&d.Restriction)},
		{3, (*uint8)(&d.Watch)}, {4, (*uint8)(&d.Absence)}, {5, (*uint8)(&d.Reason)}, {1, new(uint8)},
	}
}

// Keys turns the record's ids into one database's keys.
type Keys interface {
	SubjectKey(ID) Key
	LineKey(ID) Key
	WardKey(ID) Key
}

// Marks gives the marks of an entry that is, or once was, the latest version
// of the entry with place seq; known is the version's own sequence number.
// Entries of the house, corrections, voids and notes give none.
func Marks(e Entry, keys Keys, seq, known int64) []Mark {
	m := Mark{
		Subject: keys.SubjectKey(e.Subject), At: e.Happened, Seq: seq, Known: known, Kind: e.Kind, Precision: e.Precision,
		Detail: Detail{Score: NoScore},
	}
	if e.Line != "" {
		m.Line = keys.LineKey(e.Line)
	}
	switch b := e.Body.(type) {
	case Admission:
		m.Ward = keys.WardKey(b.Ward)
	case Transfer:
		m.Ward = keys.WardKey(b.Ward)
	case Occasion:
		b.mark(&m)
	case Facts:
		return b.marks(m)
	case Review:
		m.Signs, m.States, m.Flush, m.Used, m.Needed, m.Until = b.Signs, b.Dressing, b.Flush, b.Used, b.Needed, b.KeepUntil
		m.score(b.Score, b.Signs)
	case NotSeen:
		m.Absence, m.Until = b.Why, b.Returns
	case Dressing:
		m.Material = b.Material
	case Discharge:
		return b.marks(m, keys)
	case Removal:
		m.Reason, m.Signs = b.Reason, b.Signs
		m.score(b.Score, b.Signs)
	case SiteCheck:
		m.Signs = b.Signs
		m.score(b.Score, b.Signs)
	case Justification:
		m.RuleTag, m.Until = b.Rule.Tag(), b.Until
		if b.Unobtainable {
			m.Flags |= Unobtainable
		}
	case InfectionOutcome:
		m.Infection = b.Outcome
	case FollowUp:
	default:
		return nil
	}
	return []Mark{m}
}

func (m *Mark) score(given *int, signs Signs) {
	if given != nil {
		m.Score = int8(max(0, min(5, *given)))
		return
	}
	m.Score = int8(ScoreOf(signs))
	m.Flags |= ScoreFromSigns
}

func (o Occasion) mark(m *Mark) {
	m.Outcome, m.Site, m.Side, m.Gauge = o.Outcome, o.Site, o.Side, o.Gauge
	m.Asepsis, m.PlacedBy, m.Purposes, m.Material, m.Flush = o.Asepsis, o.PlacedBy, o.Purposes, o.Dressing, o.Flush
	byOne := map[Operator]int{}
	for _, a := range o.Attempts {
		if a.Operator != (Operator{}) {
			m.Flags |= OperatorNamed
			byOne[a.Operator]++
			m.MostByOne = uint8(min(math.MaxUint8, max(int(m.MostByOne), byOne[a.Operator])))
		}
	}
	if o.Operator != (Operator{}) {
		m.Flags |= OperatorNamed
	}
	m.Attempts = uint8(min(math.MaxUint8, max(len(o.Attempts), o.Count)))
}

func (f Facts) marks(m Mark) []Mark {
	var marks []Mark
	add := func(fill func(*Mark)) {
		one := m
		one.Part = len(marks)
		fill(&one)
		marks = append(marks, one)
	}
	if f.Group != 0 {
		add(func(o *Mark) { o.Group = f.Group })
	}
	for _, l := range f.Limits {
		add(func(o *Mark) { o.Limb, o.Restriction, o.Until, o.Flags = l.Limb, l.Why, l.Until, ends(l.Lifted) })
	}
	for _, w := range f.Watches {
		add(func(o *Mark) { o.Watch, o.Until, o.Flags = w.Why, w.Until, ends(w.Lifted) })
	}
	if f.Need != nil {
		add(func(o *Mark) {
			o.NeedML, o.Purposes = uint16(min(max(0, f.Need.MillilitresPerHour), MostNeeded)), Purposes(0).With(f.Need.For)
		})
	}
	return marks
}

func ends(yes bool) Flags {
	if yes {
		return Ends
	}
	return 0
}

func (d Discharge) marks(m Mark, keys Keys) []Mark {
	marks := []Mark{m}
	for i, id := range d.LeftIn {
		left := m
		left.Line, left.Part, left.Flags = keys.LineKey(id), i+1, LeftIn
		marks = append(marks, left)
	}
	return marks
}

// ScoreOf is the phlebitis score that follows from the signs: the highest row
// of the scale whose signs are all present. Pus, or a cord without the rest,
// counts at least 2. The scale is the visual infusion phlebitis score of
// Jackson 1998, by name only; its signs are in our own words.
func ScoreOf(s Signs) int {
	all := func(codes ...Sign) bool { return s&SetOf(codes...) == SetOf(codes...) }
	two := 0
	for _, sign := range []Sign{Pain, Redness, Swelling} {
		if s.Has(sign) {
			two++
		}
	}
	switch {
	case all(Pain, Redness, Induration, Cord, Fever):
		return 5
	case all(Pain, Redness, Induration, Cord):
		return 4
	case all(Pain, Redness, Induration):
		return 3
	case two >= 2, s.Any(Pus, Cord):
		return 2
	case s.Any(Pain, Redness, Swelling, Induration):
		return 1
	}
	return 0
}
