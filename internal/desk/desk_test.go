package desk_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
)

// ledger is a record in memory of one ward and one patient. What it has no
// method for is nil, so that whoever asks for more than the test means is found.
type ledger struct {
	desk.Store
	house    []line.HouseEntry // nil: the one ward
	loads    int               // of patients, lines and marks
	marks    int
	appended []line.Entry
	accesses []account.Access
	changed  func(line.Change)
	tried    []line.Tried
	shares   []line.SharedRecord
	entries  map[line.ID]line.Entry
}

func (l *ledger) OnChange(f func(line.Change)) { l.changed = f }

func (l *ledger) House(context.Context) ([]line.HouseEntry, error) {
	if l.house != nil {
		return l.house, nil
	}
	return []line.HouseEntry{{Seq: 1, WardKey: 1, Entry: line.Entry{
		ID: "w", Kind: line.KindWard, Body: line.Ward{Ward: "alder", Name: "Alder", Zone: "Europe/London"},
	}}}, nil
}

func (l *ledger) patient() line.Patient {
	return line.Patient{Key: 7, ID: "patient-1", Reference: "KD-204", Ward: 1, LastWard: 1, Bed: "2"}
}

func (l *ledger) Patient(_ context.Context, id line.ID) (line.Patient, error) {
	l.loads++
	if id != "patient-1" {
		return line.Patient{}, fault.New(fault.NotFound, "fault.no-such-page")
	}
	return l.patient(), nil
}

func (l *ledger) PatientByKey(context.Context, line.Key) (line.Patient, error) {
	l.loads++
	return l.patient(), nil
}

func (l *ledger) PatientsByReference(context.Context, string) ([]line.Patient, error) {
	l.loads++
	return []line.Patient{l.patient()}, nil
}

func (l *ledger) WardPatients(context.Context, line.Key) ([]line.Patient, error) {
	l.loads++
	return []line.Patient{l.patient()}, nil
}

func (l *ledger) current() line.Current {
	return line.Current{Key: 9, ID: "line-1", Subject: 7, SubjectID: "patient-1", Ward: 1, Outcome: line.WithLine, Out: line.Far}
}

func (l *ledger) Line(context.Context, line.ID) (line.Current, error) {
	l.loads++
	return l.current(), nil
}

func (l *ledger) LineOf(context.Context, line.ID) (line.Current, line.Patient, error) {
	l.loads++
	return l.current(), l.patient(), nil
}

func (l *ledger) Lines(context.Context, line.Key) ([]line.Current, error) {
	l.loads++
	return []line.Current{l.current()}, nil
}

func (l *ledger) Beds(context.Context, []int64) (map[int64]string, error) { return nil, nil }

func (l *ledger) LinesByKey(context.Context, []line.Key) (map[line.Key]line.Current, error) {
	l.loads++
	return map[line.Key]line.Current{9: l.current()}, nil
}

func (l *ledger) Marks(context.Context, line.Key, int64) ([]line.Mark, error) {
	l.loads++
	l.marks++
	return nil, nil
}

func (l *ledger) MarksOf(_ context.Context, subjects []line.Key, _ int64, each func(line.Key, []line.Mark) error) error {
	l.loads++
	for _, s := range subjects {
		l.marks++
		if err := each(s, nil); err != nil {
			return err
		}
	}
	return nil
}

func (l *ledger) History(context.Context, line.ID) ([]line.Record, error) {
	l.loads++
	return nil, nil
}

func (l *ledger) Attempts(context.Context, line.ID) ([]line.Tried, error) {
	l.loads++
	return l.tried, nil
}

func (l *ledger) Stopped(context.Context, line.ID) (int, error) { return 0, nil }

func (l *ledger) Entry(_ context.Context, id line.ID) (line.Record, error) {
	l.loads++
	if e, ok := l.entries[id]; ok {
		return line.Record{Entry: e, Root: id}, nil
	}
	return line.Record{}, fault.New(fault.NotFound, "fault.no-such-page")
}

func (l *ledger) Append(_ context.Context, b line.Batch) ([]line.Receipt, error) {
	l.appended = append(l.appended, b.Entries...)
	return make([]line.Receipt, len(b.Entries)), nil
}

func (l *ledger) NoteAccess(_ context.Context, a account.Access) error {
	l.accesses = append(l.accesses, a)
	return nil
}

var noon = time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)

func newDesk() (*desk.Desk, *ledger) {
	l := &ledger{}
	return desk.New(l, func() time.Time { return noon }), l
}

func person(role account.Role) desk.Person {
	if role == "" {
		return desk.Person{}
	}
	return desk.Person{Account: account.Account{ID: "person-1", Role: role}}
}

func review() line.Entry {
	return line.Entry{ID: "e-1", Kind: line.KindReview, Subject: "patient-1", Line: "line-1", Precision: line.ToMinute, Body: line.Review{}}
}

func TestDesk_RefusesBeforeItLoads(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	record := func(e line.Entry) func(*desk.Desk, desk.Person) error {
		return func(d *desk.Desk, who desk.Person) error {
			_, err := d.Record(ctx, who, desk.Act{Entries: []line.Entry{e}})
			return err
		}
	}
	corrected := review()
	corrected.Kind, corrected.Body = line.KindCorrection, line.Correction{Root: "e-0", Seen: "e-0", Why: "x", Replacement: review()}
	for _, c := range []struct {
		name  string
		right account.Right
		ask   func(*desk.Desk, desk.Person) error
	}{
		{"wards", account.SeeWards, func(d *desk.Desk, who desk.Person) error { _, err := d.Wards(ctx, who); return err }},
		{"a board", account.SeeWards, func(d *desk.Desk, who desk.Person) error { _, err := d.Board(ctx, who, "alder"); return err }},
		{"a patient", account.SeeWards, func(d *desk.Desk, who desk.Person) error { _, err := d.Patient(ctx, who, "patient-1"); return err }},
		{"a line", account.SeeWards, func(d *desk.Desk, who desk.Person) error { _, err := d.Line(ctx, who, "line-1"); return err }},
		{"a reference", account.SeeWards, func(d *desk.Desk, who desk.Person) error { _, err := d.FindPatient(ctx, who, "KD-204"); return err }},
		{"whose line", account.RecordCare, func(d *desk.Desk, who desk.Person) error { _, _, _, err := d.Whose(ctx, who, "line-1"); return err }},
		{"the latest version", account.RecordCare, func(d *desk.Desk, who desk.Person) error {
			_, _, err := d.Latest(ctx, who, "e-1")
			if fault.Is(err, fault.NotFound) {
				return nil
			}
			return err
		}},
		{"a review", account.RecordCare, record(review())},
		{"a corrected review", account.RecordCare, record(corrected)},
		{"a follow-up", account.JudgeLines, record(line.Entry{ID: "e-2", Kind: line.KindFollowUp, Body: line.FollowUp{Rule: "review-overdue"}})},
		{"a policy as an act", account.ManagePeople, record(line.Entry{ID: "e-3", Kind: line.KindPolicy, Body: line.Policy{}})},
		{"the own record", account.SeeOwnRecord, func(d *desk.Desk, who desk.Person) error { _, err := d.OwnRecord(ctx, who); return err }},
		{"the own attempts", account.SeeOwnRecord, func(d *desk.Desk, who desk.Person) error { _, err := d.OwnAttempts(ctx, who); return err }},
		{"an answer to attempts", account.SeeOwnRecord, func(d *desk.Desk, who desk.Person) error { return d.AnswerAttempts(ctx, who, nil, line.Yes) }},
		{"the shares given", account.SeeOwnRecord, func(d *desk.Desk, who desk.Person) error { _, err := d.SharesGiven(ctx, who); return err }},
		{"the shares received", account.SeeOwnRecord, func(d *desk.Desk, who desk.Person) error { _, err := d.SharesReceived(ctx, who); return err }},
		{"the looks at the own record", account.SeeOwnRecord, func(d *desk.Desk, who desk.Person) error {
			_, err := d.LooksAtOwnRecord(ctx, who, 10)
			return err
		}},
		{"an agreement as an act", "", record(line.Entry{ID: "e-4", Kind: line.KindAttemptAgreement, Body: line.AttemptAgreement{}})},
		{"a share as an act", "", record(line.Entry{ID: "e-5", Kind: line.KindRecordShare, Body: line.RecordShare{}})},
		{"a ward's values", account.ManagePeople, func(d *desk.Desk, who desk.Person) error {
			return d.SetWard(ctx, who, line.Ward{Ward: "birch", Name: "Birch", Zone: "Europe/London"})
		}},
	} {
		for _, role := range append([]account.Role{""}, account.Roles...) {
			t.Run(c.name+" by "+string(role), func(t *testing.T) {
				t.Parallel()
				d, l := newDesk()
				err := c.ask(d, person(role))
				switch {
				case role.May(c.right):
					require.NoError(t, err)
					return
				case role == "":
					require.True(t, fault.Is(err, fault.Unauthenticated), "%v", err)
				default:
					require.True(t, fault.Is(err, fault.Forbidden), "%v", err)
				}
				require.Zero(t, l.loads, "nothing of a patient is read for who may not see it")
				require.Empty(t, l.appended)
				require.Empty(t, l.accesses)
			})
		}
	}
}

func TestDesk_NotesWhoOpenedWhom(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	d, l := newDesk()
	nurse := person(account.Nurse)
	_, err := d.Patient(ctx, nurse, "patient-1")
	require.NoError(t, err)
	_, err = d.Line(ctx, nurse, "line-1")
	require.NoError(t, err)
	require.Equal(t, []account.Access{
		{Account: "person-1", Subject: 7, What: "patient", At: noon}, {Account: "person-1", Subject: 7, Line: 9, What: "line", At: noon},
	}, l.accesses)

	_, err = d.Patient(ctx, nurse, "nobody")
	require.True(t, fault.Is(err, fault.NotFound))
	_, err = d.Board(ctx, nurse, "alder")
	require.NoError(t, err)
	_, _, _, err = d.Whose(ctx, nurse, "line-1")
	require.NoError(t, err)
	_, err = d.Patient(ctx, desk.System(), "patient-1")
	require.NoError(t, err)
	require.Len(t, l.accesses, 2, "no history was opened by a person")
}

func TestDesk_AssessesAgainOnlyWhatChanged(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	d, l := newDesk()
	board := func() *desk.Board {
		b, err := d.Board(ctx, person(account.Nurse), "alder")
		require.NoError(t, err)
		return b
	}
	first := board()
	require.Equal(t, 1, l.marks)
	require.Equal(t, first.Version, board().Version)
	require.Equal(t, 1, l.marks, "what is known is not read again")

	changes, stop := d.WatchWard(1)
	defer stop()
	l.changed(line.Change{Subjects: []line.Key{8}, Wards: []line.Key{2}})
	board()
	require.Equal(t, 1, l.marks, "another patient on another ward")
	require.Empty(t, changes)

	for i, c := range []line.Change{{Subjects: []line.Key{7}, Wards: []line.Key{1}}, {House: true}, {All: true}} {
		before := d.WardVersion(1)
		l.changed(c)
		require.Len(t, changes, 1, "%+v", c)
		<-changes
		require.Greater(t, d.WardVersion(1), before)
		board()
		require.Equal(t, 2+i, l.marks, "%+v", c)
	}
}

func TestDesk_StampsWhoRecorded(t *testing.T) {
	t.Parallel()
	d, l := newDesk()
	forged := review()
	forged.Author = "somebody-else"
	_, err := d.Record(context.Background(), person(account.Nurse), desk.Act{Entries: []line.Entry{forged}, Now: true})
	require.NoError(t, err)
	require.Equal(t, line.ID("person-1"), l.appended[0].Author)
	require.Equal(t, line.MinuteOf(noon), l.appended[0].Happened)
	require.Equal(t, line.FormatVersion, l.appended[0].Version)
}

func TestHouse_ShowsWhatStandsAndRemembersWhatDid(t *testing.T) {
	t.Parallel()
	d, l := newDesk()
	version := func(seq, known, gone int64, body line.Body) line.HouseEntry {
		return line.HouseEntry{Seq: seq, Known: known, Gone: gone, WardKey: 1, Entry: line.Entry{ID: "e", Kind: body.Kind(), Body: body}}
	}
	ward := func(name string, first line.ShiftTime) line.Ward {
		return line.Ward{Ward: "alder", Name: name, Zone: "UTC", Shifts: []line.ShiftTime{first, first + 720}}
	}
	l.house = []line.HouseEntry{
		version(1, 1, 4, ward("Adler", 360)), version(1, 4, 0, ward("Alder", 420)),
		version(2, 2, 5, line.Policy{TOML: "# withdrawn"}),
		version(3, 3, 6, line.Policy{TOML: "cannot = be = read"}), version(3, 6, 0, line.Policy{TOML: "# put right"}),
	}
	h, err := d.House(t.Context())
	require.NoError(t, err)
	require.Len(t, h.Wards, 1)
	require.Equal(t, "Alder", h.Wards[0].Name)
	require.Len(t, h.Policies, 1)
	require.Equal(t, "# put right", string(h.Policies[0].Policy.Text()))
	first := func(known int64) string {
		return h.Rulebook.KnownAt(known).ShiftAt(1, line.MinuteOf(noon)).From.Time().Format("15:04")
	}
	require.Equal(t, "06:00", first(3))
	require.Equal(t, "07:00", first(4))
	require.Equal(t, "# withdrawn", string(h.Rulebook.KnownAt(4).PolicyAt(0).Text()))
	require.Same(t, h.Policies[0].Policy, h.Rulebook.KnownAt(6).PolicyAt(0))
}
