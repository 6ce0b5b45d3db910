package demo_test

import (
	"fmt"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
	"dwellbook/internal/demo"
	"dwellbook/internal/line"
)

// cases are seeds with moments of all sorts: by day and by night, around the
// change of shifts, and just after the clocks change in Europe/London.
func cases(t *testing.T) []demo.Options {
	t.Helper()
	var all []demo.Options
	for seed, s := range []string{
		"2026-11-25T15:10:00Z", "2026-06-03T03:00:00Z", "2026-06-03T06:31:20.5Z", "2026-06-03T06:15:00Z", "2026-01-10T19:29:59.999Z",
		"2026-03-29T02:30:00Z", "2026-10-25T01:30:00Z", "2026-10-25T01:30:00Z",
	} {
		at, err := time.Parse(time.RFC3339, s)
		require.NoError(t, err)
		all = append(all, demo.Options{Seed: uint64(seed), Now: at, Policy: audit.DefaultPolicy().Text()})
	}
	return all
}

func name(o demo.Options) string {
	return fmt.Sprintf("seed %d at %s", o.Seed, o.Now.Format(time.RFC3339))
}

// canonical is all of a hospital's entries as the bytes that are kept.
func canonical(t *testing.T, o demo.Options) []byte {
	t.Helper()
	h, err := demo.Generate(o)
	require.NoError(t, err)
	var all []byte
	for _, e := range h.Entries {
		raw, _, err := line.Canonical(e, func() string { return "salt" })
		require.NoError(t, err)
		all = append(append(all, raw...), '\n')
	}
	return all
}

func TestGenerate_IsTheSameToTheByteForTheSameSeedAndNow(t *testing.T) {
	t.Parallel()
	o := cases(t)[0]
	first := canonical(t, o)
	require.Equal(t, string(first), string(canonical(t, o)))
	o.Seed = 99
	require.NotEqual(t, string(first), string(canonical(t, o)))
}

func TestGenerate_RefusesWhatItCannotInvent(t *testing.T) {
	t.Parallel()
	o := cases(t)[0]
	o.Days = demo.LeastDays - 1
	_, err := demo.Generate(o)
	require.Error(t, err)
	o.Days, o.Policy = demo.LeastDays, []byte("no policy at all")
	_, err = demo.Generate(o)
	require.ErrorAs(t, err, new(*audit.PolicyError))
	o.Policy = nil
	_, err = demo.Generate(o)
	require.NoError(t, err)
}

func TestGenerate_MakesEntriesThatAnyRecordTakes(t *testing.T) {
	t.Parallel()
	for _, o := range cases(t) {
		t.Run(name(o), func(t *testing.T) {
			t.Parallel()
			h, err := demo.Generate(o)
			require.NoError(t, err)
			require.GreaterOrEqual(t, len(h.Entries), 20_000)
			require.LessOrEqual(t, len(h.Entries), 42_000)
			ids := map[line.ID]bool{}
			var last time.Time
			for n, e := range h.Entries {
				require.False(t, ids[e.ID], "entry %d has an id given before", n)
				ids[e.ID] = true
				require.Empty(t, line.Check(e, line.MinuteOf(e.Recorded)), "entry %d, as of when it was recorded", n)
				require.False(t, e.Recorded.Before(last), "entry %d is recorded before the one ahead of it", n)
				require.False(t, e.Recorded.After(o.Now), "entry %d is recorded after now", n)
				require.Equal(t, e.Recorded, e.Recorded.UTC().Truncate(time.Millisecond), "entry %d", n)
				last = e.Recorded
			}
		})
	}
}

// A history must be free of contradictions as it stood after each entry, not
// only at the end: audits ask about the past as it was known.
func TestGenerate_ContradictsItselfAtNoTime(t *testing.T) {
	t.Parallel()
	for _, o := range cases(t) {
		t.Run(name(o), func(t *testing.T) {
			t.Parallel()
			w := read(t, o)
			in := 0
			for id, versions := range w.marks {
				for _, known := range w.known[id] {
					var marks []line.Mark
					for _, m := range versions {
						if m.StandsAt(known) {
							marks = append(marks, m)
						}
					}
					require.Empty(t, line.Fold(marks).Conflicts, "patient %s, known at #%d", id, known)
				}
				for _, l := range line.Fold(w.standing(id)).Lines {
					if l.InSitu(w.now) {
						in++
					}
				}
			}
			require.GreaterOrEqual(t, in, 120)
			require.LessOrEqual(t, in, 200)
		})
	}
}

func TestGenerate_PutsNoTwoPatientsInOneBed(t *testing.T) {
	t.Parallel()
	type bed struct {
		ward line.ID
		name line.Text
	}
	all := cases(t)
	for seed := range 24 { // short histories, for what is seldom
		all = append(all, demo.Options{Seed: 100 + uint64(seed), Now: all[0].Now, Days: 30})
	}
	for _, o := range all {
		h, err := demo.Generate(o)
		require.NoError(t, err)
		known, in := map[bed]bool{}, map[line.ID]bed{}
		references := map[line.Text]bool{}
		pattern := regexp.MustCompile(`^[A-Z]{2}-[0-9]{3,4}$`)
		taken := map[bed]line.ID{}
		move := func(e line.Entry, to bed) {
			require.True(t, known[to], "%s: no bed %v", name(o), to)
			require.Empty(t, taken[to], "%s: bed %v at %s", name(o), to, e.Happened)
			delete(taken, in[e.Subject])
			taken[to], in[e.Subject] = e.Subject, to
		}
		for _, e := range h.Entries {
			switch b := e.Body.(type) {
			case line.Ward:
				for _, n := range b.Beds {
					known[bed{b.Ward, line.Text(n)}] = true
				}
			case line.Admission:
				require.Regexp(t, pattern, string(b.Reference))
				require.False(t, references[b.Reference], "reference %s given twice", b.Reference)
				references[b.Reference] = true
				move(e, bed{b.Ward, b.Bed})
			case line.Transfer:
				require.NotEmpty(t, in[e.Subject], "%s: %s is moved, but not in the house", name(o), e.Subject)
				move(e, bed{b.Ward, b.Bed})
			case line.Discharge:
				delete(taken, in[e.Subject])
				delete(in, e.Subject)
			}
		}
	}
}

func TestGenerate_HasPeopleOfEveryRole(t *testing.T) {
	t.Parallel()
	h, err := demo.Generate(cases(t)[0])
	require.NoError(t, err)
	roles, signIns, ids := map[string]int{}, map[string]bool{}, map[line.ID]bool{"system": true}
	for _, p := range h.Staff {
		roles[p.Role]++
		require.False(t, signIns[p.SignIn], "two people sign in as %s", p.SignIn)
		signIns[p.SignIn], ids[p.ID] = true, true
	}
	require.Equal(t, map[string]int{"nurse": 24, "doctor": 6, "lead": 1, "administrator": 1}, roles)
	for n, e := range h.Entries {
		require.True(t, ids[e.Author], "entry %d is by nobody on the staff", n)
	}
}
