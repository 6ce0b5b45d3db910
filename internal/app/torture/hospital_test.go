package torture

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// A large hospital, and who is in it.
const (
	wards       = 40
	bedsAWard   = 30
	staff       = 600
	pastYears   = 10
	year        = 365 * 24 * 60 // minutes
	together    = 8_000         // entries stored at once
	entriesEach = 8             // of a line of the past
)

func wardNo(w int) line.ID  { return line.ID(fmt.Sprintf("ward-%02d", w)) }
func bedLine(b int) line.ID { return line.ID(fmt.Sprintf("here-%04d", b)) }

// filler streams entries into a record.
type filler struct {
	t       *testing.T
	store   *store.Store
	entries []line.SealedEntry
}

func (f *filler) put(e line.Entry) {
	e.Version, e.Author, e.Precision, e.Kind, e.Recorded = line.FormatVersion, "staff-000", line.ToMinute, e.Body.Kind(), e.Happened.Time()
	raw, texts, err := line.Canonical(e, func() string { return "salt" })
	require.NoError(f.t, err)
	if f.entries = append(f.entries, line.SealedEntry{Canonical: raw, Texts: texts}); len(f.entries) >= together {
		f.flush()
	}
}

func (f *filler) flush() {
	_, err := f.store.AppendSealed(f.t.Context(), f.entries)
	require.NoError(f.t, err)
	f.entries = f.entries[:0]
}

var placement = line.Occasion{
	Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Asepsis: line.AsepsisFull, Dressing: line.Film,
	Attempts: []line.Attempt{{Operator: line.Operator{Account: "staff-000"}}},
}

// past gives a record of ten years with so many lines that came out again, of
// eight entries each. It is made once and kept in the user's cache.
func past(t *testing.T, lines int) string {
	t.Helper()
	cache, err := os.UserCacheDir()
	require.NoError(t, err)
	file := filepath.Join(cache, "dwellbook-bench", fmt.Sprintf("hospital-%d.db", lines))
	if _, err := os.Stat(file); err == nil {
		return file
	}
	require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o700))
	making := file + ".making"
	for _, of := range []string{"", "-wal", "-shm"} {
		_ = os.Remove(making + of)
	}
	start := time.Now()
	now := line.MinuteOf(start) - 2*24*60
	st, err := store.Open(t.Context(), making, store.Options{})
	require.NoError(t, err)
	f := &filler{t: t, store: st}
	for w := range wards {
		f.put(line.Entry{ID: wardNo(w) + ".made", Happened: now - (pastYears+1)*year, Body: line.Ward{Ward: wardNo(w), Name: string(wardNo(w)), Zone: "UTC"}})
	}
	for i := range lines {
		id := line.ID(fmt.Sprintf("%07d", i))
		placed := now - pastYears*year + line.Minute(int64(i)*(pastYears*year-5*24*60)/int64(lines))
		of := func(what string, on line.ID, after line.Minute, body line.Body) {
			f.put(line.Entry{ID: id + line.ID(what), Subject: "p" + id, Line: on, Happened: placed + after, Body: body})
		}
		of(".adm", "", -60, line.Admission{Ward: wardNo(i % wards)})
		of(".in", id, 0, placement)
		for r := range line.Minute(entriesEach - 3) {
			of(fmt.Sprintf(".%d", r), id, 600+r*720, line.Review{Dressing: line.SetOf(line.Intact), Needed: line.Yes})
		}
		of(".out", id, 4400, line.Removal{Reason: line.NotNeeded})
	}
	f.flush()
	require.NoError(t, st.Close())
	require.NoError(t, os.Rename(making, file))
	t.Logf("made %s in %s", file, time.Since(start).Round(time.Second))
	return file
}

// today puts a patient with a line into every bed, people on the staff, and
// the shift change of every ward at a moment.
func today(t *testing.T, file string, change time.Time) {
	t.Helper()
	st, err := store.Open(t.Context(), file, store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	f := &filler{t: t, store: st}
	now := line.MinuteOf(time.Now())
	at := line.ShiftTime(change.UTC().Hour()*60 + change.UTC().Minute())
	shifts := []line.ShiftTime{min(at, (at+720)%1440), max(at, (at+720)%1440)}
	for w := range wards {
		f.put(line.Entry{ID: wardNo(w) + ".today", Happened: now - 24*60, Body: line.Ward{Ward: wardNo(w), Name: string(wardNo(w)), Zone: "UTC", Shifts: shifts}})
	}
	hash, err := account.Hash(passphrase)
	require.NoError(t, err)
	for i := range staff {
		id := line.ID(fmt.Sprintf("staff-%03d", i))
		f.put(line.Entry{ID: id + ".opened", Happened: now - 24*60, Body: line.Account{
			Account: id, SignIn: string(id), Name: line.Text(id), Initials: "ST", Role: string(account.Nurse),
		}})
		require.NoError(t, st.SetSecret(t.Context(), id, hash))
	}
	for b := range wards * bedsAWard {
		id := bedLine(b)
		f.put(line.Entry{ID: id + ".adm", Subject: "p" + id, Happened: now - 800, Body: line.Admission{Ward: wardNo(b % wards), Bed: line.Text(fmt.Sprint(b/wards + 1))}})
		f.put(line.Entry{ID: id + ".in", Subject: "p" + id, Line: id, Happened: now - 790, Body: placement})
	}
	f.flush()
}
