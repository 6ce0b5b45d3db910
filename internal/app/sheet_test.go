package app_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/app"
	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// sheetDesk is a record in a file, and the sheets that are read into it.
type sheetDesk struct {
	dir string
	now time.Time
}

func newSheetDesk(t *testing.T) *sheetDesk {
	t.Helper()
	return &sheetDesk{dir: t.TempDir(), now: time.Date(2026, 3, 5, 12, 0, 0, 0, time.UTC)}
}

const sheetHead = "line_id,ward,bed,patient_ref,inserted_at,site,side,gauge,last_review_at,removed_at,removal_reason\n"

func (d *sheetDesk) options(t *testing.T, text string) app.SheetImport {
	t.Helper()
	file := filepath.Join(d.dir, "sheet.csv")
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	return app.SheetImport{DB: filepath.Join(d.dir, "record.db"), Source: "audit", File: file}
}

// read imports and gives the result with what is said of it.
func (d *sheetDesk) read(t *testing.T, o app.SheetImport) (app.SheetResult, string) {
	t.Helper()
	result, err := app.ImportSheet(context.Background(), o, func() time.Time { return d.now })
	require.NoError(t, err)
	var said bytes.Buffer
	require.NoError(t, result.Write(&said))
	require.NotContains(t, said.String(), "[import")
	require.NotContains(t, said.String(), "<no value>")
	return result, said.String()
}

// entries are the record's entries about patients, by kind.
func (d *sheetDesk) entries(t *testing.T) map[line.Kind][]line.Entry {
	t.Helper()
	st, err := store.OpenReadOnly(context.Background(), filepath.Join(d.dir, "record.db"))
	require.NoError(t, err)
	all := map[line.Kind][]line.Entry{}
	require.NoError(t, st.Entries(context.Background(), func(e line.SealedEntry) error {
		entry, err := line.Decode(e.Canonical, nil)
		if entry.Kind != line.KindWard {
			all[entry.Kind] = append(all[entry.Kind], entry)
		}
		return err
	}))
	require.NoError(t, st.Close())
	return all
}

func count(all map[line.Kind][]line.Entry) map[line.Kind]int {
	n := map[line.Kind]int{}
	for kind, entries := range all {
		n[kind] = len(entries)
	}
	return n
}

func TestImportSheet_SaysWhatWasNotRead(t *testing.T) {
	t.Parallel()
	d := newSheetDesk(t)
	row := "L1,Ash,3,KD-1,2026-03-02 08:20,forearm,left,20,,,,cold hands\n"
	text := strings.TrimSuffix(sheetHead, "\n") + ",Remarks\n" + row + row + row + "L2,Ash,4,KD-2,2026-03-02 08:20,nose,left,20,,,,\n"
	result, said := d.read(t, d.options(t, text))
	require.False(t, result.Done)
	require.Equal(t, []string{"Remarks"}, result.Unread)
	require.Equal(t, []int{3, 4}, result.Repeated)
	require.Contains(t, said, "heading not read: Remarks\n")
	require.Contains(t, said, "counted once: lines 3, 4\n")
	require.Contains(t, said, "nothing was imported\n")
	require.Empty(t, d.entries(t), "one bad row, and nothing is imported")

	o := d.options(t, text)
	o.SkipBad, o.BadFile = true, filepath.Join(d.dir, "bad.csv")
	result, said = d.read(t, o)
	require.True(t, result.Done)
	require.Equal(t, 1, result.Rows)
	require.Equal(t, 1, result.BadRows)
	require.Contains(t, said, "are in "+o.BadFile+"\n")
	require.Contains(t, said, "1 good rows, 1 bad; 2 entries new, 0 known already, 0 changed, 0 corrected\n")
	require.Equal(t, map[line.Kind]int{line.KindAdmission: 1, line.KindOccasion: 1}, count(d.entries(t)))
}

func TestImportSheet_RefusesTheRowThatContradictsTheRecord(t *testing.T) {
	t.Parallel()
	d := newSheetDesk(t)
	first := "L1,Ash,3,KD-1,2026-03-02 08:20,forearm,left,20,,2026-03-03 10:00,leak\n"
	_, said := d.read(t, d.options(t, sheetHead+first+"L2,Ash,3,KD-1,2026-03-02 09:00,wrist,left,20,,,\n"))
	require.Contains(t, said, "2 good rows, 0 bad; 4 entries new")

	// L1 is out since the 3rd; a look on the 4th cannot be true. L2 and the other patient are not to blame.
	o := d.options(t, sheetHead+
		"L1,Ash,3,KD-1,2026-03-02 08:20,forearm,left,20,2026-03-04 09:00,,\n"+
		"L2,Ash,3,KD-1,2026-03-02 09:00,wrist,left,20,2026-03-04 09:05,,\n"+
		"L3,Ash,4,KD-2,2026-03-02 09:00,wrist,left,20,,,\n")
	result, said := d.read(t, o)
	require.False(t, result.Done)
	require.Equal(t, 1, result.BadRows, said)
	require.Contains(t, said, "line 2: ")
	require.Contains(t, said, "after the line came out")
	require.NotContains(t, said, "line 3: ")

	o.SkipBad, o.BadFile = true, filepath.Join(d.dir, "bad.csv")
	result, _ = d.read(t, o)
	require.Equal(t, 2, result.Rows)
	bad, err := os.ReadFile(o.BadFile)
	require.NoError(t, err)
	require.Equal(t, 2, strings.Count(string(bad), "\n"), "the headings and one row:\n%s", bad)
	require.Equal(t, map[line.Kind]int{
		line.KindAdmission: 2, line.KindOccasion: 3, line.KindRemoval: 1, line.KindReview: 1,
	}, count(d.entries(t)))
}

func TestImportSheet_ALineOfAnotherPatientChangesNothing(t *testing.T) {
	t.Parallel()
	d := newSheetDesk(t)
	d.read(t, d.options(t, sheetHead+"L1,Ash,3,KD-1,2026-03-02 08:20,forearm,left,20,,,\n"))
	before := d.entries(t)

	other := "L1,Ash,3,KD-2,2026-03-02 08:20,forearm,left,20,2026-03-04 09:00,,\n"
	result, said := d.read(t, d.options(t, sheetHead+other))
	require.Len(t, result.Changed, 1, said)
	require.Contains(t, said, "line 2 (L1): the record has this line in another patient")
	require.Contains(t, said, "0 entries new, 0 known already, 1 changed, 0 corrected")
	require.NotContains(t, said, "KD-", "who the patients are stands in no message")
	require.Equal(t, before, d.entries(t))

	// Beside a row of the same patient that holds, that one has the admission.
	both := d.options(t, sheetHead+other+"L2,Birch,5,KD-2,2026-03-03 09:00,wrist,left,20,,,\n")
	both.MakeWards = true
	result, said = d.read(t, both)
	require.Len(t, result.Changed, 1, said)
	after := d.entries(t)
	require.Equal(t, map[line.Kind]int{line.KindAdmission: 2, line.KindOccasion: 2}, count(after))
	require.Equal(t, after[line.KindOccasion][1].Happened, after[line.KindAdmission][1].Happened)

	both.Correct = true
	result, said = d.read(t, both)
	require.Equal(t, 1, result.Corrected, said)
	fix, ok := d.entries(t)[line.KindCorrection][0].Body.(line.Correction)
	require.True(t, ok)
	require.Equal(t, after[line.KindOccasion][1].Subject, fix.Replacement.Subject)
}

func TestImportSheet_ReadsAsOfAMoment(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ asOf, want string }{
		{"", "2026-03-05T12:00:00Z"}, {"2026-03-04", "2026-03-04T00:00:00Z"}, {"2026-03-04T19:00:00+01:00", "2026-03-04T18:00:00Z"},
	} {
		d := newSheetDesk(t)
		o := d.options(t, sheetHead+"L1,Ash,3,KD-1,,forearm,left,20,,,\n")
		o.AsOf = c.asOf
		d.read(t, o)
		placed := d.entries(t)[line.KindOccasion][0]
		require.Equal(t, c.want, placed.Happened.String(), c.asOf)
		require.Equal(t, line.NotKnown, placed.Precision)
	}
	d := newSheetDesk(t)
	for asOf, problem := range map[string]string{"yesterday": "-as-of", "2026-03-06": "after"} {
		o := d.options(t, sheetHead+"L1,Ash,3,KD-1,,forearm,left,20,,,\n")
		o.AsOf = asOf
		_, err := app.ImportSheet(context.Background(), o, func() time.Time { return d.now })
		require.Error(t, err)
		require.Contains(t, app.Explain(context.Background(), err), problem)
	}
}

func TestImportSheet_ADryRunMakesNoFile(t *testing.T) {
	t.Parallel()
	d := newSheetDesk(t)
	o := d.options(t, sheetHead+"A-1,Alder,4,KD-204,2026-03-02T08:20,forearm,left,20,,,\n")
	o.DryRun = true
	result, _ := d.read(t, o)
	require.Equal(t, 1, result.Rows)
	require.False(t, result.Done)
	require.NoFileExists(t, o.DB)
}
