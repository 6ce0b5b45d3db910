package interop

import (
	"errors"
	"io"
	"strings"
	"time"

	"dwellbook/internal/line"
)

// EpisodeOptions says what a table of episodes cannot say of itself.
type EpisodeOptions struct {
	Mapping Mapping        // the zero value: our own headings and codes
	Zone    *time.Location // of local times, where the mapping names none; nil: UTC
	Now     time.Time      // what lies after it is in the future
}

// Episodes is a table of lines, read: what a sheet would say of each line,
// without a hospital's wards and references. IDs, Operator, Role, Attempts and
// FirstTime go with Courses.
type Episodes struct {
	Courses   []line.Course // Line is the place in here from 1, Ward the place in Wards from 1
	IDs       []string      // line_id as written; may be blank
	Operator  []int32       // the place in Operators from 0; -1: blank
	Role      []int32       // the place in Roles from 0; -1: blank
	Attempts  []uint8       // 0: not told
	FirstTime []line.Answer // whether the first attempt succeeded: as the table says, else by the attempts; 0: not told

	Wards     []string // by name, in the order of first sight, as written there
	Operators []string
	Roles     []string

	Bad      []BadRow // without their text, which is not kept
	Repeated []int    // line numbers of rows that say of a line_id what another says
	Unread   []string // headings that are no column of ours
}

// ReadEpisodes reads a table with one row a line, of which it needs the columns
// inserted_at and site. The table may be larger than a sheet: only what is in
// Episodes is held in memory. What is wrong in a row stands in Episodes.Bad; an
// error is about the table as a whole (*fault.Error), or from r.
func ReadEpisodes(r io.Reader, o EpisodeOptions) (*Episodes, error) {
	if o.Mapping.patterns == nil {
		o.Mapping = DefaultMapping()
	}
	in, err := openTable(r, o.Mapping.delimiter)
	if err != nil {
		return nil, err
	}
	header, err := in.heading()
	if err != nil {
		return nil, err
	}
	laid, err := layoutOf(header, &o.Mapping, roleColumn, insertedColumn, siteColumn)
	if err != nil {
		return nil, err
	}
	in.csv.ReuseRecord = true
	s := newEpisodeReader(o, laid)
	for {
		number, record, err := in.next()
		switch {
		case errors.Is(err, io.EOF):
			return s.finish(), nil
		case err != nil:
			return nil, err
		}
		s.add(s.row(number, record))
	}
}

// episodeColumns are those of a row that an episode is made of.
var episodeColumns = []column{
	lineIDColumn, wardColumn, operatorColumn, roleColumn, insertedColumn, siteColumn, sideColumn, gaugeColumn, attemptsColumn,
	firstTimeColumn, asepsisColumn, dressedColumn, reviewedColumn, removedColumn, reasonColumn,
}

// episodeReader reads the rows of one table of episodes, one at a time.
type episodeReader struct {
	reader
	Episodes
	zone      *time.Location
	current   row // the row being read: its cells are used again for the next
	wards     *names
	operators *names
	roles     *names
	firstTime lexicon[line.Answer]
	numbers   []int // by course: the line in the file
}

func newEpisodeReader(o EpisodeOptions, l layout) *episodeReader {
	m := &o.Mapping
	s := &episodeReader{
		reader: newReader(l, m, o.Now), Episodes: Episodes{Unread: l.unread}, zone: time.UTC,
		current:   row{cells: new([columnCount]string)},
		wards:     namesOf(func(cell string) string { return m.ward(m.said(cell)) }, folded),
		operators: namesOf(m.said, strings.Clone), // initials are somebody's to the letter
		roles:     namesOf(m.said, folded),
		firstTime: codes(m, firstTimeColumn, m.firstTime, answerSpellings),
	}
	switch {
	case m.zone != nil:
		s.zone = m.zone
	case o.Zone != nil:
		s.zone = o.Zone
	}
	return s
}

func (s *episodeReader) row(number int, record []string) *row {
	r := &s.current
	*r = row{number: number, cells: r.cells, zone: s.zone}
	s.cut(r, record, episodeColumns)
	s.codes(r)
	if r.firstTime = lookUp(&s.firstTime, r, firstTimeColumn); r.firstTime == 0 {
		r.firstTime = firstOf(r.attempts)
	}
	s.times(r)
	if !r.placed.given() && len(r.problems) == 0 {
		r.bad(insertedColumn, "interop.blank", "interop.allow.inserted")
	}
	return r
}

// firstOf tells from the number of attempts it took whether the first succeeded.
func firstOf(attempts int) line.Answer {
	switch attempts {
	case 0:
		return 0
	case 1:
		return line.Yes
	}
	return line.No
}

// add takes a row to the good or the bad.
func (s *episodeReader) add(r *row) {
	if len(r.problems) > 0 {
		sortProblems(r.problems)
		s.Bad = append(s.Bad, BadRow{Number: r.number, Problems: r.problems})
		return
	}
	s.keep(s.episode(r))
	s.numbers = append(s.numbers, r.number)
}

func (e *Episodes) keep(l episode) {
	l.course.Line = line.Key(len(e.Courses) + 1)
	e.Courses = append(e.Courses, l.course)
	e.IDs = append(e.IDs, l.id)
	e.Operator = append(e.Operator, l.operator)
	e.Role = append(e.Role, l.role)
	e.Attempts = append(e.Attempts, l.attempts)
	e.FirstTime = append(e.FirstTime, l.firstTime)
}

// episode is what a row says of its line.
type episode struct {
	course         line.Course
	id             string
	operator, role int32
	attempts       uint8
	firstTime      line.Answer
}

func (s *episodeReader) episode(r *row) episode {
	e := episode{
		course: line.Course{
			Ward: line.Key(s.wards.of(r.cells[wardColumn]).code + 1), Placed: r.placed.at, Out: r.removed.at, Precision: r.placed.precision,
			Site: r.site, Side: r.side, Gauge: r.gauge, Asepsis: r.asepsis, Reason: r.reason,
		},
		id:       strings.Clone(r.cells[lineIDColumn]), // a cell holds on to its whole row
		operator: s.operators.of(r.cells[operatorColumn]).code,
		role:     s.roles.of(r.cells[roleColumn]).code,
		attempts: uint8(r.attempts), firstTime: r.firstTime,
	}
	switch {
	case r.reason == line.FoundGone:
		e.course.Out = max(r.placed.at, r.reviewed.at) // the last look
	case !r.removed.given():
		e.course.Out = line.Far
	}
	return e
}

// at is the episode that was kept, without its place.
func (e *Episodes) at(i int) episode {
	course := e.Courses[i]
	course.Line = 0
	return episode{course, e.IDs[i], e.Operator[i], e.Role[i], e.Attempts[i], e.FirstTime[i]}
}

func (s *episodeReader) finish() *Episodes {
	s.countOnce()
	s.Wards, s.Operators, s.Roles = s.wards.list, s.operators.list, s.roles.list
	read := s.Episodes // what else the reader knows can go
	return &read
}

// names are the different names in a column, in the order of first sight.
type names struct {
	lexicon[int32] // of places in list; -1: blank
	list           []string
}

// namesOf reads the names with read; those with the same key are one.
func namesOf(read, key func(string) string) *names {
	n, places := &names{}, map[string]int32{}
	n.lexicon = lexiconOf(func(cell string) (int32, *Problem) {
		name := read(cell)
		if name == "" {
			return -1, nil
		}
		place, known := places[key(name)]
		if !known {
			place = int32(len(n.list))
			n.list = append(n.list, strings.Clone(name))
			places[strings.Clone(key(name))] = place
		}
		return place, nil
	})
	return n
}
