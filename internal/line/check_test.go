package line_test

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
)

// now is the record's clock in these tests.
var now = line.MinuteOf(time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC))

// of is a sound entry about line l1 of patient p1, an hour ago.
func of(body line.Body) line.Entry {
	return line.Entry{
		Version: line.FormatVersion, ID: "e1", Kind: body.Kind(), Subject: "p1", Line: "l1", Author: "a1",
		Happened: now - 60, Precision: line.ToMinute, Body: body,
	}
}

// ofPerson is a sound entry of a person about their own record.
func ofPerson(body line.Body) line.Entry {
	e := of(body)
	e.Subject, e.Line = "", ""
	return e
}

func with(e line.Entry, change func(*line.Entry)) line.Entry {
	change(&e)
	return e
}

func number(n int) *int { return &n }

var placed = line.Occasion{Outcome: line.WithLine, Site: line.Forearm, Side: line.Left, Gauge: 20}

func attempts(failed ...bool) line.Occasion {
	o := placed
	for _, f := range failed {
		o.Attempts = append(o.Attempts, line.Attempt{Failed: f})
	}
	return o
}

// sound holds an entry of every kind with nothing wrong in it.
func sound() map[string]line.Entry {
	without := attempts(true, true)
	without.Outcome = line.WithoutLine
	return map[string]line.Entry{
		"admission":                         of(line.Admission{Ward: "w1"}),
		"a line, first attempt":             of(attempts(false)),
		"a line, third attempt":             of(attempts(true, true, false)),
		"a line, number of attempts":        of(line.Occasion{Outcome: line.WithLine, Count: 20}),
		"no line":                           of(without),
		"ticks of a vein":                   of(line.Occasion{Outcome: line.WithoutLine, Attempts: []line.Attempt{{Failed: true, Difficulty: line.SetOf(line.VeinNotVisible, line.VeinSmall)}, {Failed: true, Difficulty: line.SetOf(line.NotDifficult)}}}),
		"supervised":                        of(line.Occasion{Outcome: line.WithLine, Operator: line.Operator{Account: "a1"}, Supervisor: line.Operator{Written: "Dr V"}}),
		"an agreement":                      ofPerson(line.AttemptAgreement{Account: "a1", Version: "e9", Agreed: line.No}),
		"a record shared":                   ofPerson(line.RecordShare{Share: "s1", Account: "a1", With: "a2", Stopped: 1, Attempts: []line.TriedCopy{{Occasion: 1, At: now, Precision: line.ToMinute, No: 1, Of: 1, Outcome: line.WithLine}}}),
		"a record taken back":               ofPerson(line.RecordShare{Share: "s1", Account: "a1", With: "a2", TakenBack: true}),
		"before skin":                       of(line.Occasion{Outcome: line.BeforeSkin, Stopped: line.NoVeinFound}),
		"the longest short cannula":         of(line.Occasion{Outcome: line.WithLine, LengthMM: 60}),
		"facts":                             of(line.Facts{Group: line.Child, Limits: []line.Limit{{Limb: line.LeftArm, Why: line.Fistula}}}),
		"a limit lifted":                    of(line.Facts{Limits: []line.Limit{{Limb: line.LeftArm, Why: line.DVT, Lifted: true}}}),
		"nothing wrong":                     of(line.Review{Dressing: line.SetOf(line.Intact)}),
		"a review with score":               of(line.Review{Score: number(5), Dressing: line.SetOf(line.Loose, line.Damp), KeepUntil: now}),
		"not seen, of the patient":          with(of(line.NotSeen{Why: line.OffWard, Returns: now}), func(e *line.Entry) { e.Line = "" }),
		"dressing":                          of(line.Dressing{}),
		"transfer":                          of(line.Transfer{Ward: "w2"}),
		"discharge":                         of(line.Discharge{LeftIn: []line.ID{"l1"}}),
		"removal":                           of(line.Removal{Reason: line.FoundGone, Score: number(0)}),
		"site-check":                        of(line.SiteCheck{}),
		"infection":                         of(line.InfectionOutcome{Outcome: line.InfectionConfirmed}),
		"justification":                     of(line.Justification{Rule: "need-daily", Clinician: "Dr A", Why: "theatre", Until: now}),
		"cannot be obtained":                of(line.Justification{Rule: "record-incomplete", Unobtainable: true}),
		"follow-up":                         of(line.FollowUp{Rule: "need-daily"}),
		"correction":                        of(line.Correction{Root: "e0", Seen: "e0", Why: "wrong arm", Replacement: of(placed)}),
		"void":                              of(line.Void{Root: "e0", Seen: "e0", Why: "wrong patient"}),
		"policy, in force next week":        with(of(line.Policy{}), func(e *line.Entry) { e.Subject, e.Line, e.Happened = "", "", now+7*24*60 }),
		"two minutes ahead":                 with(of(placed), func(e *line.Entry) { e.Happened = now + 2 }),
		"the last day known, seconds apart": with(of(placed), func(e *line.Entry) { e.Happened, e.Precision = now, line.ToDay }),
	}
}

func TestCheck_LetsSoundEntriesPass(t *testing.T) {
	t.Parallel()
	for name, e := range sound() {
		require.Empty(t, line.Check(e, now), name)
	}
}

func TestCheck_NamesWhatIsWrong(t *testing.T) {
	t.Parallel()
	many := attempts()
	many.Attempts = make([]line.Attempt, 21)
	for i := range many.Attempts {
		many.Attempts[i].Failed = i < 20
	}
	faulty := attempts(false)
	faulty.Attempts[0].Fault = line.VeinRolled
	noGauge := attempts(false)
	noGauge.Attempts[0].Gauge = 21
	bothWays := attempts(true, false)
	bothWays.Attempts[0].Difficulty = line.SetOf(line.NotDifficult, line.VeinSmall)
	skin := attempts(true)
	skin.Outcome, skin.Stopped = line.BeforeSkin, line.PatientDeclined
	success := attempts(true, false)
	success.Outcome = line.WithoutLine
	cases := []struct {
		key, field string
		entry      line.Entry
	}{
		{"check.id", "id", with(of(placed), func(e *line.Entry) { e.ID = "" })},
		{"check.id", "id", with(of(placed), func(e *line.Entry) { e.ID = "no id" })},
		{"check.author", "author", with(of(placed), func(e *line.Entry) { e.Author = "" })},
		{"check.body", "body", with(of(line.Dressing{}), func(e *line.Entry) { e.Body = nil })},
		{"check.body", "body", with(of(line.Dressing{}), func(e *line.Entry) { e.Kind = line.KindReview })},
		{"check.subject", "subject", with(of(line.Admission{Ward: "w"}), func(e *line.Entry) { e.Subject = "" })},
		{"check.line", "line", with(of(line.Review{}), func(e *line.Entry) { e.Line = "" })},
		{"check.line", "line", with(of(line.SiteCheck{}), func(e *line.Entry) { e.Line = "" })},
		{"check.precision", "precision", with(of(placed), func(e *line.Entry) { e.Precision = 0 })},
		{"check.future", "happened", with(of(placed), func(e *line.Entry) { e.Happened = now + 3 })},
		{"check.early", "happened", with(of(placed), func(e *line.Entry) { e.Happened = line.Earliest - 1 })},
		{"check.ward", "ward", of(line.Admission{})},
		{"check.ward", "ward", of(line.Transfer{})},
		{"check.outcome", "outcome", of(line.Occasion{})},
		{"check.gauge", "gauge", of(line.Occasion{Outcome: line.WithLine, Gauge: 21})},
		{"check.gauge", "attempts", of(noGauge)},
		{"check.length", "length_mm", of(line.Occasion{Outcome: line.WithLine, LengthMM: 61})},
		{"check.length", "length_mm", of(line.Occasion{Outcome: line.WithLine, LengthMM: -1})},
		{"check.count", "count", of(line.Occasion{Outcome: line.WithLine, Count: 21})},
		{"check.count", "count", of(line.Occasion{Outcome: line.WithLine, Count: -1})},
		{"check.count", "attempts", of(many)},
		{"check.fault-of-success", "attempts", of(faulty)},
		{"check.last-attempt-failed", "attempts", of(attempts(true, true))},
		{"check.last-attempt-failed", "attempts", of(attempts(false, true))},
		{"check.last-attempt-failed", "attempts", of(attempts(false, false))},
		{"check.success-without-line", "attempts", of(success)},
		{"check.attempt-before-skin", "attempts", of(skin)},
		{"check.attempt-before-skin", "attempts", of(line.Occasion{Outcome: line.BeforeSkin, Stopped: line.NoVeinFound, Count: 1})},
		{"check.stopped", "stopped", of(line.Occasion{Outcome: line.BeforeSkin})},
		{"check.score", "score", of(line.Review{Score: number(6)})},
		{"check.score", "score", of(line.Removal{Reason: line.Phlebitis, Score: number(-1)})},
		{"check.score", "score", of(line.SiteCheck{Score: number(9)})},
		{"check.intact-and-not", "dressing", of(line.Review{Dressing: line.SetOf(line.Intact, line.Damp)})},
		{"check.end-before-start", "keep_until", of(line.Review{KeepUntil: now - 60})},
		{"check.end-before-start", "returns", of(line.NotSeen{Why: line.OffWard, Returns: now - 61})},
		{"check.end-before-start", "limits", of(line.Facts{Limits: []line.Limit{{Limb: line.LeftArm, Why: line.Burnt, Until: now - 60}}})},
		{"check.limit", "limits", of(line.Facts{Limits: []line.Limit{{Limb: line.LeftArm}}})},
		{"check.limit", "limits", of(line.Facts{Limits: []line.Limit{{Why: line.Burnt}}})},
		{"check.not-seen", "why", of(line.NotSeen{})},
		{"check.removal-reason", "reason", of(line.Removal{})},
		{"check.infection", "outcome", of(line.InfectionOutcome{})},
		{"check.rule", "rule", of(line.Justification{Clinician: "Dr A", Why: "theatre", Until: now})},
		{"check.why", "why", of(line.Justification{Rule: "need-daily", Clinician: "Dr A", Until: now})},
		{"check.clinician", "clinician", of(line.Justification{Rule: "need-daily", Why: "theatre", Until: now})},
		{"check.justification-end", "until", of(line.Justification{Rule: "need-daily", Clinician: "Dr A", Why: "theatre", Until: now - 60})},
		{"check.difficult-and-not", "attempts", of(bothWays)},
		{"check.account", "account", ofPerson(line.AttemptAgreement{Version: "e9", Agreed: line.Yes})},
		{"check.root", "version", ofPerson(line.AttemptAgreement{Account: "a1", Agreed: line.Yes})},
		{"check.agreed", "agreed", ofPerson(line.AttemptAgreement{Account: "a1", Version: "e9"})},
		{"check.id", "share", ofPerson(line.RecordShare{Account: "a1", With: "a2"})},
		{"check.account", "account", ofPerson(line.RecordShare{Share: "s1", With: "a2"})},
		{"check.share-with", "with", ofPerson(line.RecordShare{Share: "s1", Account: "a1"})},
		{"check.share-with", "with", ofPerson(line.RecordShare{Share: "s1", Account: "a1", With: "a1"})},
		{"check.root", "root", of(line.Correction{Why: "x", Replacement: of(placed)})},
		{"check.why", "why", of(line.Correction{Root: "e0", Replacement: of(placed)})},
		{"check.outcome", "replacement.outcome", of(line.Correction{Root: "e0", Why: "x", Replacement: of(line.Occasion{})})},
		{"check.root", "root", of(line.Void{Why: "x"})},
		{"check.why", "why", of(line.Void{Root: "e0"})},
	}
	var covered []string
	for _, c := range cases {
		problems := line.Check(c.entry, now)
		require.Len(t, problems, 1, "%s of %s: %v", c.key, c.field, problems)
		require.Equal(t, c.key, problems[0].Message.Key)
		require.Equal(t, c.field, problems[0].Field, c.key)
		covered = append(covered, c.key)
	}

	source, err := os.ReadFile("check.go")
	require.NoError(t, err)
	for _, m := range regexp.MustCompile(`"(check\.[a-z-]+)"`).FindAllStringSubmatch(string(source), -1) {
		require.True(t, slices.Contains(covered, m[1]), "%s has no case above", m[1])
	}
}

func TestCheck_SaysEverythingAtOnce(t *testing.T) {
	t.Parallel()
	var fields []string
	for _, p := range line.Check(line.Entry{Kind: line.KindReview, Happened: now + 100, Body: line.Review{Score: number(7)}}, now) {
		fields = append(fields, p.Field)
	}
	require.Equal(t, "id author subject line precision happened score", strings.Join(fields, " "))
}
