package audit_test

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

type vocabulary interface{ keys() []string }

type codes[V line.Vocabulary] struct{}

func (codes[V]) keys() []string {
	var c line.Code[V]
	keys := []string{c.Word()}
	for _, w := range c.All() {
		keys = append(keys, w.Word())
	}
	return keys
}

func of[V line.Vocabulary](line.Code[V]) vocabulary { return codes[V]{} }

func TestWords_EveryVocabularyAndRuleHasItsWords(t *testing.T) {
	t.Parallel()
	all := []vocabulary{
		of(line.Left), of(line.Wrist), of(line.Film), of(line.Intact), of(line.FlushEasy), of(line.AsepsisFull), of(line.OwnStaff),
		of(line.ForFluids), of(line.NotNeeded), of(line.Pain), of(line.NoFlashback), of(line.WithLine), of(line.NoVeinFound),
		of(line.InfectionConfirmed), of(line.LeftArm), of(line.Fistula), of(line.OffWard), of(line.WatchChild), of(line.Adult),
		of(line.Yes), of(line.ToMinute), of(line.KindReview),
	}
	for _, v := range all {
		for _, key := range v.keys() {
			require.True(t, words.Known(key), key)
		}
	}
	for why := line.BeforePlacement; why <= line.BeforeRemoval; why++ {
		require.True(t, words.Known(why.Word()), why.Word())
	}
	for _, r := range audit.Rules() {
		require.True(t, words.Known(r.Rule.Word()), r.Rule.Word())
	}
	for s := audit.ActNow; s <= audit.Advise; s++ {
		require.True(t, words.Known(s.Word()), s.Word())
	}
}

// Every key that the code names stands in the catalogue.
func TestWords_EveryMessageOfTheCodeIsInTheCatalogue(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	named := 0
	for _, name := range files {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		for _, m := range regexp.MustCompile(`"(audit\.[a-z.-]*[a-z])"`).FindAllSubmatch(text, -1) {
			require.True(t, words.Known(string(m[1])), "%s: %s", name, m[1])
			named++
		}
	}
	require.Greater(t, named, 50)
}

// said is the message in words; it fails the test where the catalogue leaves a gap.
func said(t *testing.T, m line.Message, now line.Minute) string {
	t.Helper()
	london, err := time.LoadLocation("Europe/London")
	require.NoError(t, err)
	text := words.Tell(words.With(context.Background(), words.Speaker{Zone: london, Now: now}), m)
	require.NotContains(t, text, "[", "%v", m)
	require.NotContains(t, text, "<no value>", "%v", m)
	require.NotEmpty(t, text)
	return text
}
