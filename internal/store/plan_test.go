package store_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/line"
	"dwellbook/internal/store"
)

// No page may scan what grows with the past. The small tables of the house
// and of eras are scanned on purpose, and a list of keys that was given.
func TestStatements_NoPageScansWhatGrows(t *testing.T) {
	t.Parallel()
	s := openFile(t, freshFile(t), store.Options{})
	allowed := map[string]string{
		"read the last place":           "SCAN entry", // the one last row: ORDER BY seq DESC LIMIT 1
		"read the last entry's place":   "SCAN entry",
		"read who opened patients last": "SCAN access", // the last rows, by number
		"read the tablets":              "SCAN tablet",
		"read the eras":                 "SCAN era",
		"read the wards' keys":          "SCAN ward_key",
		"read the accounts":             "SCAN account",
		"read the lines in at a moment": "SCAN s", // what a search found of one day
	}
	walked := 0
	for _, st := range store.Statements() {
		verb, _, _ := strings.Cut(st.Text, " ")
		if !st.Page || verb == "BEGIN" || verb == "COMMIT" || verb == "ROLLBACK" || verb == "SAVEPOINT" || verb == "RELEASE" || verb == "PRAGMA" {
			continue
		}
		plan, err := store.Explain(t.Context(), s, st.Text)
		require.NoError(t, err, st.Name)
		walked++
		for _, step := range plan {
			if !strings.HasPrefix(step, "SCAN ") || step == "SCAN CONSTANT ROW" || strings.HasPrefix(step, "SCAN json_each ") {
				continue
			}
			ok := allowed[st.Name] != "" && strings.HasPrefix(step, allowed[st.Name])
			require.True(t, ok, "%s: %s", st.Name, step)
		}
	}
	require.Greater(t, walked, 60)
}

// board reads what the board of a ward is made of: its patients, their marks
// and their lines.
func board(t *testing.T, s *store.Store, ward line.Key) {
	t.Helper()
	patients, err := s.WardPatients(t.Context(), ward)
	require.NoError(t, err)
	require.Len(t, patients, 10)
	var keys []line.Key
	for _, p := range patients {
		keys = append(keys, p.Key)
		_, err := s.Lines(t.Context(), p.Key)
		require.NoError(t, err)
	}
	require.NoError(t, s.MarksOf(t.Context(), keys, 0, func(_ line.Key, marks []line.Mark) error {
		require.Len(t, marks, 11)
		return nil
	}))
	open, err := s.Candidates(t.Context(), at(5000), at(5000))
	require.NoError(t, err)
	require.Len(t, open, 10)
}

// The driver does not give SQLite's own count of steps, so two counts stand in
// for it: the rows and entries that the store's readers take, which must be
// the same whatever the past, and the pages SQLite touches (its cache hits and
// misses), which may grow by the depth of the trees only.
func TestBoard_CostsTheSameWhateverThePast(t *testing.T) {
	t.Parallel()
	var rows, pages []int64
	for _, past := range []int{150, 1200} {
		s := openFile(t, freshFile(t), store.Options{Poll: time.Hour, Checkpoint: time.Hour})
		_, err := s.AppendSealed(t.Context(), courses(t, past))
		require.NoError(t, err)
		w := &ward{record: s, t: t, n: 1 << 20}
		for i := range 10 {
			p, l := line.ID("here"+string(rune('a'+i))), line.ID("in"+string(rune('a'+i)))
			batch := []line.Entry{w.admission(p, 4000, "board"), w.placement(p, l, 4001)}
			for n := range 9 {
				batch = append(batch, w.review(p, l, 4002+float64(n)))
			}
			w.must(batch...)
		}
		wards, err := s.WardKeys(t.Context())
		require.NoError(t, err)
		store.Pages(t, s)
		board(t, s, wards["board"])

		rowsBefore, decodedBefore := store.Counted(s)
		pagesBefore := store.Pages(t, s)
		board(t, s, wards["board"])
		rowsAfter, decodedAfter := store.Counted(s)
		rows = append(rows, rowsAfter-rowsBefore)
		pages = append(pages, store.Pages(t, s)-pagesBefore)
		require.Equal(t, decodedBefore, decodedAfter, "no entry is decoded for a board")
	}
	require.Equal(t, rows[0], rows[1], "rows read")
	require.EqualValues(t, 10+10+10*11+10, rows[0])
	require.LessOrEqual(t, 2*pages[1], 3*pages[0], "pages touched: %v", pages)
}
