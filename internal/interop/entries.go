package interop

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"dwellbook/internal/line"
)

// namespace is the project's own, for name-based ids (RFC 9562, version 5).
var namespace = uuid.MustParse("9870e950-f81a-4ced-a53a-08e1c62059e1")

// identity makes the ids of one source.
type identity string

func (i identity) of(parts ...string) line.ID {
	name := strings.Join(append([]string{string(i)}, parts...), "\x00")
	return line.ID(uuid.NewSHA1(namespace, []byte(name)).String())
}

// at is the part of an id that a moment makes.
func at(m moment) string {
	return strconv.FormatInt(int64(m.at), 10) + m.precision.String()
}

func (s *sheetReader) entry(r *row, m moment, body line.Body) line.Entry {
	return line.Entry{
		Version: line.FormatVersion, Kind: body.Kind(), Subject: r.subject, Author: s.Author,
		Happened: m.at, Precision: m.precision, Body: body,
	}
}

// entries makes the entries of a row, in the order in which they can be true.
// The placement and the removal of a line are one each, whenever they were: a
// time put right is a changed value. Reviews and dressings are many: another
// time is another entry.
func (s *sheetReader) entries(r *row, moves rowMoves) []line.Entry {
	entries := slices.Clone(moves.before)
	ofLine := func(m moment, body line.Body, id ...string) {
		e := s.entry(r, m, body)
		e.Line = s.ids.of("line", r.lineID)
		e.ID = s.ids.of(append([]string{"entry", r.lineID, body.Kind().String()}, id...)...)
		entries = append(entries, e)
	}
	occasion := line.Occasion{
		Outcome: line.WithLine, Site: r.site, Side: r.side, Gauge: r.gauge, Count: r.attempts, Asepsis: r.asepsis,
		Operator: line.Operator{Written: line.Text(r.operator)},
	}
	// Where the placement was only seen, a dressing's own time says more than it.
	later := r.dressed.given() && (r.dressed.at > r.placed.at || !r.inserted.given())
	if !later {
		occasion.Dressing = r.material
	}
	ofLine(r.placed, occasion)
	if later {
		ofLine(r.dressed, line.Dressing{Material: r.material}, at(r.dressed))
	}
	if r.reviewed.given() {
		review := line.Review{Score: r.score}
		if r.score != nil {
			review.Scale = s.Mapping.scale
		}
		ofLine(r.reviewed, review, at(r.reviewed))
	}
	if r.removed.given() {
		ofLine(r.removed, line.Removal{Reason: r.reason})
	}
	return append(entries, moves.after...)
}

// rowMoves is what a row says of where its patient was.
type rowMoves struct{ before, after []line.Entry }

// moves follows each patient through the sheet: admitted with the first line,
// transferred where a later one was placed in another ward, discharged where
// the last line out says died or discharged. A row that puts the patient into
// two wards in one minute is bad.
func (s *sheetReader) moves(good []*row) map[*row]rowMoves {
	patients := map[line.ID][]*row{}
	for _, r := range good {
		patients[r.subject] = append(patients[r.subject], r)
	}
	moves := map[*row]rowMoves{}
	for _, rows := range patients {
		slices.SortStableFunc(rows, func(a, b *row) int { return cmp.Compare(a.placed.at, b.placed.at) })
		s.follow(rows, moves)
	}
	return moves
}

func (s *sheetReader) follow(rows []*row, moves map[*row]rowMoves) {
	var in *row // the row that brought the patient to the present ward; nil: not in the hospital
	var out *row
	stillIn := false
	for i, r := range rows {
		switch {
		case in == nil:
			moves[r] = rowMoves{before: []line.Entry{s.admission(r, bedIn(rows[i:]))}}
			in, out, stillIn = r, nil, false
		case r.ward != in.ward && r.placed.at == in.placed.at:
			r.bad(wardColumn, "interop.two-wards", "interop.allow.two-wards", "line", in.number)
			continue
		case r.ward != in.ward:
			moves[r] = rowMoves{before: []line.Entry{s.move(r, line.Transfer{Ward: r.ward, Bed: bedIn(rows[i:])})}}
			in = r
		}
		stillIn = stillIn || !r.removed.given()
		if r.removed.given() && (out == nil || r.removed.at >= out.removed.at) {
			out = r
		}
		if stillIn || out.reason != line.Died && out.reason != line.Discharged {
			continue
		}
		if i+1 < len(rows) && rows[i+1].placed.at <= out.removed.at {
			continue
		}
		m := moves[out]
		m.after = append(m.after, s.discharge(out))
		moves[out] = m
		in = nil
	}
}

// bedIn is the bed of the last row of the stay in the first row's ward that names one.
func bedIn(rows []*row) line.Text {
	bed := ""
	for _, r := range rows {
		if r.ward != rows[0].ward {
			break
		}
		if r.bed != "" {
			bed = r.bed
		}
	}
	return line.Text(bed)
}

func (s *sheetReader) admission(r *row, bed line.Text) line.Entry {
	return s.move(r, line.Admission{Ward: r.ward, Bed: bed, Reference: line.Text(r.ref)})
}

// move is an entry that takes the patient to the row's ward when its line was placed.
func (s *sheetReader) move(r *row, body line.Body) line.Entry {
	e := s.entry(r, r.placed, body)
	e.ID = s.ids.of("move", string(r.subject), body.Kind().String(), string(r.ward), at(r.placed))
	return e
}

func (s *sheetReader) discharge(r *row) line.Entry {
	e := s.entry(r, r.removed, line.Discharge{})
	e.ID = s.ids.of("move", string(r.subject), e.Kind.String(), at(r.removed))
	return e
}
