package line

// WardAt is the ward that has the patient at the moment; 0 where none has.
func (s *Subject) WardAt(at Minute) Key {
	for _, stay := range s.Stays {
		if stay.Holds(at) {
			return stay.Ward
		}
	}
	return 0
}

// LastWardAt is the ward that has the patient at the moment, else the last that had.
func (s *Subject) LastWardAt(at Minute) Key {
	var last Key
	for _, stay := range s.Stays {
		if stay.From <= at {
			last = stay.Ward
		}
	}
	return last
}

// GroupAt is adult or child at the moment: adult unless said.
func (s *Subject) GroupAt(at Minute) Group {
	group := Adult
	for _, m := range s.Groups {
		if m.At <= at {
			group = m.Group
		}
	}
	return group
}

// LineOf finds a line by its key; nil where the patient has no such line.
func (s *Subject) LineOf(key Key) *Line {
	for _, l := range s.Lines {
		if l.Key == key {
			return l
		}
	}
	return nil
}

// ScoreByRule reports whether the mark's score follows from its signs.
func (m Mark) ScoreByRule() bool { return m.Flags.Has(ScoreFromSigns) }
