package web

import (
	"context"
	"errors"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/desk"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/view"
)

// allActs are the acts that have a form.
func allActs() []act { return slices.Concat([]act{actAdmit}, patientActs, lineActs) }

// zones on both sides of UTC, one with a clock change of half an hour.
var zones = func() []*time.Location {
	var all []*time.Location
	for _, name := range []string{"Europe/London", "Pacific/Auckland", "America/New_York", "Australia/Lord_Howe"} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			panic(err)
		}
		all = append(all, zone)
	}
	return all
}()

// formNow is in the night of Europe/London's autumn change (IANA time zone database).
var formNow = line.MinuteOf(time.Date(2026, 10, 25, 3, 0, 0, 0, time.UTC))

// formScene is a patient with one line in, on a ward of the zone.
func formScene(zone *time.Location) *occurrence {
	ward := desk.Ward{Key: 1, Ward: line.Ward{Ward: "alder", Name: "Alder", Zone: zone.String()}, Location: zone}
	current := line.Current{Key: 1, ID: "line-1", Subject: 1, SubjectID: "patient-1", Outcome: line.WithLine, Out: line.Far}
	return &occurrence{
		house: &desk.House{
			Zone: zone, Wards: []desk.Ward{ward}, Hospital: line.Hospital{Reference: "[A-Z]{2}-[0-9]{3}", Example: "KD-204"},
		},
		ward: ward, patient: line.Patient{Key: 1, ID: "patient-1", Ward: 1, LastWard: 1},
		line: &current, lines: []line.Current{current}, who: "nurse", now: formNow,
	}
}

// recorded is an entry of the act's kind as it stands in the record, for a correction.
func recorded(a act) *line.Entry {
	one := 1
	bodies := map[string]line.Body{
		"place": line.Occasion{
			Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20, Count: 2,
			Supervisor: line.Operator{Account: "left"},
			Attempts:   []line.Attempt{{Failed: true, Fault: line.VeinRolled, Difficulty: line.SetOf(line.DifficultBefore)}, {Operator: line.Operator{Written: "JB"}}},
		},
		"review":    line.Review{Score: &one, Scale: "other", KeepUntil: formNow + 90},
		"dressing":  line.Dressing{Material: line.Film},
		"remove":    line.Removal{Reason: line.Leak, Score: &one, Scale: "other"},
		"admit":     line.Admission{Ward: "alder", Bed: "2", Reference: "OLD-1"},
		"not-seen":  line.NotSeen{Why: line.OffWard, Returns: formNow + 90},
		"transfer":  line.Transfer{Ward: "closed"},
		"discharge": line.Discharge{LeftIn: []line.ID{"line-1"}},
		"facts": line.Facts{
			Limits:  []line.Limit{{Limb: line.LeftArm, Why: line.Fistula, Until: formNow + 90}, {Limb: line.RightArm, Why: line.DVT, Lifted: true}},
			Watches: []line.Vigil{{Why: line.WatchChild, Lifted: true}}, Need: &line.Need{MillilitresPerHour: 90, For: line.ForFluids},
		},
		"site-check": line.SiteCheck{Score: &one, Scale: "other"},
		"justify":    line.Justification{Rule: "review-overdue", Clinician: "Dr A", Why: "away", Until: formNow},
		"infection":  line.InfectionOutcome{Outcome: line.InfectionConfirmed},
		"follow-up":  line.FollowUp{Rule: "a-rule-of-before"},
	}
	body := bodies[a.path]
	return &line.Entry{
		Version: line.FormatVersion, ID: "entry-0", Kind: body.Kind(), Subject: "patient-1", Line: "line-1", Author: "nurse",
		Happened: formNow - 600, Precision: line.ToMinute, Body: body,
	}
}

// Whatever is posted: nothing panics, and there is a clear message at a field,
// or an entry that can be written and read again.
func FuzzActForm(f *testing.F) {
	for i, form := range []string{
		"entry=e1&subject=p2&bed=4&reference=kd-205&group=child&limb-0=left-arm&limb-why-0=fistula&watch=child",
		"entry=e1&line=l2&outcome=line&site=forearm&side=left&gauge=20&asepsis=full&purpose=drugs&purpose=fluids&length_mm=32&attempt.1.result=vein-rolled&attempt.1.site=wrist&attempt.1.operator=nurse&attempt.1.difficulty=not-visible&attempt.1.difficulty=small-vein&supervisor_written=Dr+V&attempt.3.result=placed&attempt.3.written=JB",
		"entry=e1&why=off-ward&returns_hours=2",
		"entry=e1&ward=alder&bed=7",
		"entry=e1&answer.line-1=left-in&why=goes+home+with+it",
		"entry=e1&group=adult&watch=sedated-or-confused&watch-ended=yes",
		"entry=e1&sign=pain&sign=redness&state=intact&flush=easy&used=yes&needed=no&score=1&keep_hours=24&note=x",
		"entry=e1&material=film&when=ago&when-ago=90",
		"entry=e1&reason=leak&complete=yes&when=typed&when-date=2026-10-25&when-clock=01:30&when-fold=second",
		"entry=e1&why=declined&when=day&when-date=2026-10-25",
		"entry=e1&score=2&when=unknown",
		"entry=e1&rule=review-overdue&clinician=Dr+Solano&why=asleep&hours=4",
		"entry=e1&outcome=not-confirmed",
		"entry=e1&rule=dressing-overdue&note=spoke",
	} {
		f.Add(uint8(i), uint8(0), false, form)
		f.Add(uint8(i), uint8(1), true, form)
	}
	f.Fuzz(func(t *testing.T, which, zone uint8, correcting bool, posted string) {
		acts := allActs()
		a := acts[int(which)%len(acts)]
		o := formScene(zones[int(zone)%len(zones)])
		if correcting {
			o.was, o.root, o.seen = recorded(a), "entry-0", "entry-0"
		}
		form, _ := url.ParseQuery(posted) // what cannot be read is left out, as by net/http
		intact := true
		for _, values := range form {
			intact = intact && utf8.ValidString(strings.Join(values, ""))
		}
		for name := range form {
			intact = intact && utf8.ValidString(name)
		}
		what, err := (&Server{}).build(a, o, form)
		require.NotEmpty(t, what.Entries)
		if err != nil {
			requireClear(t, a, o, err)
			return
		}
		for _, e := range what.Entries {
			e.Version, e.Author = line.FormatVersion, o.who
			if problems := line.Check(e, o.now); len(problems) > 0 {
				fields := fault.Fields{}
				for _, p := range problems {
					fields[p.Field] = fault.Message{Key: p.Message.Key, Args: p.Message.Args}
				}
				requireClear(t, a, o, &fault.Error{Kind: fault.Invalid, Key: "fault.fields", Fields: fields})
				return
			}
			requireKept(t, e, intact)
		}
	})
}

// requireClear fails unless the error says in words what is wrong at which field.
func requireClear(t *testing.T, a act, o *occurrence, err error) {
	t.Helper()
	var wrong *fault.Error
	require.ErrorAs(t, err, &wrong)
	require.Equal(t, fault.Invalid, wrong.Kind)
	require.NotEmpty(t, wrong.Fields)
	ctx := words.With(context.Background(), words.Speaker{Zone: o.ward.Location, Now: o.now})
	form := view.Form{Errors: map[string]string{}}
	for name, m := range wrong.Fields {
		require.True(t, words.Known(m.Key), m.Key)
		text := words.Say(ctx, m.Key, m.Args...)
		require.NotContains(t, text, "<no value>", m.Key)
		form.Errors[name] = text
	}
	renameFields(a, o, form)
	require.NotEmpty(t, form.Errors)
}

// requireKept fails unless the entry, written as it is kept, reads as it was.
func requireKept(t *testing.T, e line.Entry, intact bool) {
	t.Helper()
	canonical, sealed, err := line.Canonical(e, func() string { return "salt" })
	require.NoError(t, err)
	back, err := line.Decode(canonical, func(hash string) (string, bool) {
		i := slices.IndexFunc(sealed, func(s line.Sealed) bool { return s.Hash == hash })
		if i < 0 {
			return "", false
		}
		return sealed[i].Text, true
	})
	require.NoError(t, err)
	if !intact { // bytes that are no text are kept as U+FFFD, and stay that
		again, _, err := line.Canonical(back, func() string { return "salt" })
		require.NoError(t, err)
		require.Equal(t, string(canonical), string(again))
		return
	}
	require.Equal(t, e, back)
}

// The values of a ward: a clear message, or values that read as they were typed.
func FuzzWardForm(f *testing.F) {
	f.Add("name=Alder&zone=Europe/London&shifts=07:30,+19:30&every=1.5&beds=1%0A2%0A%0A3")
	f.Add("shifts=7:30&every=NaN&beds=")
	f.Add("shifts=24:00&every=-0&closed=yes")
	f.Fuzz(func(t *testing.T, posted string) {
		values, _ := url.ParseQuery(posted)
		w, err := wardOf(view.Form{Values: values}, "alder")
		var wrong *fault.Error
		if errors.As(err, &wrong) {
			require.Equal(t, fault.Invalid, wrong.Kind)
			require.NotEmpty(t, wrong.Fields)
			for _, m := range wrong.Fields {
				require.True(t, words.Known(m.Key))
			}
			return
		}
		require.NoError(t, err)
		require.True(t, w.Every >= 0 && w.Every <= 24*60)
		for _, s := range w.Shifts {
			require.True(t, s >= 0 && s < 24*60)
		}
		for _, bed := range w.Beds {
			require.NotEmpty(t, strings.TrimSpace(bed))
		}
	})
}

// Wherever a sign-in is told to go on to, it stays on this server.
func FuzzLocalPath(f *testing.F) {
	for _, to := range []string{"", "/", "/wards/alder?by=bed", "//elsewhere.example", "/\\elsewhere.example", "/\t/elsewhere.example", "https://elsewhere.example"} {
		f.Add(to)
	}
	base, err := url.Parse("https://here.example/sign-in")
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, to string) {
		path := localPath(to)
		require.True(t, strings.HasPrefix(path, "/"))
		// As a browser does: leading and trailing controls and spaces, and all tabs and line ends, are dropped; \ is / (URL standard).
		cleaned := strings.NewReplacer("\t", "", "\n", "", "\r", "", "\\", "/").Replace(strings.TrimFunc(path, func(r rune) bool { return r <= ' ' }))
		ref, err := url.Parse(cleaned)
		if err != nil {
			return
		}
		require.Equal(t, "here.example", base.ResolveReference(ref).Host, "%q", to)
	})
}
