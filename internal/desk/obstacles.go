package desk

import (
	"context"
	"slices"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// Obstacle is a standing entry that cannot be true together with an act.
type Obstacle struct {
	Root, Seen line.ID // as a void of it names it
	Entry      line.Entry
}

// Obstacles are the entries without which the act could be recorded: those it
// makes impossible, or, where the act's own entry is the impossible one, the
// fewest whose withdrawal lets it stand. None where no withdrawal would help.
func (d *Desk) Obstacles(ctx context.Context, who Person, act Act) ([]Obstacle, error) {
	if err := who.require(account.RecordCare); err != nil {
		return nil, err
	}
	h, err := d.House(ctx)
	if err != nil {
		return nil, err
	}
	subject := act.Entries[0].Subject
	p, err := d.store.Patient(ctx, subject)
	if fault.Is(err, fault.NotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	marks, err := d.store.Marks(ctx, p.Key, 0)
	if err != nil {
		return nil, err
	}
	events, err := d.events(ctx, h, subject)
	if err != nil {
		return nil, err
	}
	k := &futureKeys{house: h, subject: p.Key, lines: map[line.ID]line.Key{}}
	if err := d.knownLines(ctx, p.Key, k); err != nil {
		return nil, err
	}
	return suppose(marks, events, act.Entries, k).obstacles(events), nil
}

// supposition is a history in which an act is recorded and some entries are
// withdrawn. Entries are named by the sequence number of their root.
type supposition struct {
	marks     []line.Mark
	known     map[clash]bool // contradictions that stood before
	own       map[int64]bool // entries of the act
	withdrawn []int64
}

type clash struct {
	seq  int64
	part int
	word string
}

func clashOf(c line.Contradiction) clash { return clash{c.Mark.Seq, c.Mark.Part, c.Word} }

func contradictions(marks []line.Mark) []line.Contradiction {
	history := line.Fold(marks)
	return line.Contradictions(&history, marks)
}

func suppose(marks []line.Mark, events []Event, entries []line.Entry, k line.Keys) *supposition {
	s := &supposition{marks: slices.Clone(marks), known: map[clash]bool{}, own: map[int64]bool{}}
	for _, c := range contradictions(marks) {
		s.known[clashOf(c)] = true
	}
	seqOf := func(root line.ID) int64 {
		for _, e := range events {
			if e.Entry.ID == root {
				return e.Seq
			}
		}
		return 0
	}
	for i, e := range entries {
		const future = 1 << 60 // after everything recorded
		seq := future + int64(i)
		switch b := e.Body.(type) {
		case line.Void:
			s.drop(seqOf(b.Root))
			continue
		case line.Correction:
			seq, e = seqOf(b.Root), b.Replacement
			s.drop(seq)
		}
		s.own[seq] = true
		s.marks = append(s.marks, line.Marks(e, k, seq, future+int64(i))...)
	}
	return s
}

func (s *supposition) drop(seq int64) {
	s.marks = slices.DeleteFunc(s.marks, func(m line.Mark) bool { return m.Seq == seq })
}

// without is s with one entry more withdrawn.
func (s *supposition) without(seq int64) *supposition {
	next := &supposition{
		marks: slices.Clone(s.marks), known: s.known, own: s.own, withdrawn: append(slices.Clone(s.withdrawn), seq),
	}
	next.drop(seq)
	return next
}

// settled withdraws, one after the other, what the act makes impossible;
// stands says whether the act itself is possible then.
func (s *supposition) settled() (end *supposition, stands bool) {
	own := false
	for _, c := range contradictions(s.marks) {
		switch {
		case s.known[clashOf(c)]:
		case s.own[c.Mark.Seq]:
			own = true
		default:
			return s.without(c.Mark.Seq).settled()
		}
	}
	return s, !own
}

// obstacles are what was withdrawn to let the act stand, in order of time.
func (s *supposition) obstacles(events []Event) []Obstacle {
	best, stands := s.settled()
	if !stands {
		start := best
		best = nil
		for _, e := range events {
			if e.Standing == nil || start.own[e.Seq] || slices.Contains(start.withdrawn, e.Seq) {
				continue
			}
			if end, stands := start.without(e.Seq).settled(); stands && (best == nil || len(end.withdrawn) < len(best.withdrawn)) {
				best = end
			}
		}
	}
	if best == nil {
		return nil
	}
	var list []Obstacle
	for _, e := range slices.Backward(events) {
		if e.Standing == nil || !slices.Contains(best.withdrawn, e.Seq) {
			continue
		}
		o := Obstacle{Root: e.Entry.ID, Seen: e.Entry.ID, Entry: *e.Standing}
		if n := len(e.Changes); n > 0 {
			o.Seen = e.Changes[n-1].Entry.ID
		}
		list = append(list, o)
	}
	return list
}
