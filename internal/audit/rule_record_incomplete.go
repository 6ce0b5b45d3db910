package audit

import "dwellbook/internal/line"

// record-incomplete: the date, time, operator, side or gauge of a line in situ
// is not recorded. "Asked, cannot be obtained" closes it for good.

var recordIncompleteRule = rule{concerns: incompleteConcerns}

func incompleteConcerns(s *scene, p *Policy) {
	for _, l := range s.h.Lines {
		missing := missingOf(&l.Placement)
		if len(missing) == 0 {
			continue
		}
		holds := inSitu(l)
		for i := range s.h.Justified {
			if j := &s.h.Justified[i]; j.Flags.Has(line.Unobtainable) && answers(j, ruleTags[recordIncomplete], l.Key) {
				holds.Until = min(holds.Until, j.At)
			}
		}
		if c := s.concern(recordIncomplete, p, l.Key, holds); c != nil {
			c.Why = line.Say("audit.record-incomplete.why", "missing", list(missing))
			c.Do = line.Say("audit.record-incomplete.do")
		}
	}
}

// missingOf lists what a placement does not say.
func missingOf(m *line.Mark) []line.Message {
	var missing []line.Message
	add := func(lacks bool, what string) {
		if lacks {
			missing = append(missing, line.Say("audit.record-incomplete."+what))
		}
	}
	add(m.Precision == line.NotKnown || m.Precision == 0, "date")
	add(m.Precision == line.ToDay, "time")
	add(!m.Flags.Has(line.OperatorNamed), "operator")
	add(m.Side == 0 && m.Site != line.Neck && m.Site != line.Scalp, "side")
	add(m.Gauge == 0, "gauge")
	return missing
}

// list is an enumeration: a; a and b; a, b and c.
func list(items []line.Message) line.Message {
	said := items[0]
	for i, item := range items[1:] {
		key := "audit.list.comma"
		if i == len(items)-2 {
			key = "audit.list.and"
		}
		said = line.Say(key, "a", said, "b", item)
	}
	return said
}
