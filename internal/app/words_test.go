package app_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/fault"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/stats"
	"dwellbook/internal/words"
)

// keyed finds catalogue keys that stand in the source as literals.
var keyed = []*regexp.Regexp{
	regexp.MustCompile(`words\.Say\([^,()]+(?:\(\))?, "([a-z][\w.-]*)"[,)]`),
	regexp.MustCompile(`\bsay\(r, "([a-z][\w.-]*)"[,)]`),
	regexp.MustCompile(`fault\.(?:New|Wrap)\([^"\n]*"([a-z][\w-]*\.[\w.-]+)"`),
	regexp.MustCompile(`fault\.Field\("[^"]*", "([a-z][\w.-]*)"`),
	regexp.MustCompile(`\.wrong\([^,\n]+, "([a-z][\w-]*\.[\w.-]+)"`),
	regexp.MustCompile(`\bneed\([^\n]*, "[^"]*", "(check\.[\w.-]+)"`),
	regexp.MustCompile(`line\.Say\("([a-z][\w.-]*\.[\w.-]+)"`),
}

func TestCatalogue_HasEveryKeyTheSourceNames(t *testing.T) {
	t.Parallel()
	found := 0
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		require.NoError(t, err)
		name := d.Name()
		if d.IsDir() && strings.HasPrefix(name, ".") && name != "." && name != ".." {
			return filepath.SkipDir
		}
		source := strings.HasSuffix(name, ".go") && !strings.HasSuffix(name, "_test.go") && !strings.HasSuffix(name, "_templ.go")
		if !source && !strings.HasSuffix(name, ".templ") {
			return nil
		}
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		for _, pattern := range keyed {
			for _, m := range pattern.FindAllStringSubmatch(string(text), -1) {
				if strings.HasSuffix(m[1], ".") { // the rest follows from a value
					continue
				}
				found++
				require.True(t, words.Known(m[1]), "%s names %q, which the catalogue lacks", path, m[1])
			}
		}
		return nil
	})
	require.NoError(t, err)
	require.Greater(t, found, 200)
	for _, kind := range fault.Kinds() {
		require.True(t, words.Known("fault.title."+kind.String()), "no title for %s", kind)
	}
	for _, role := range account.Roles {
		require.True(t, words.Known(role.Word()))
	}
}

// Some keys are made of a value's own word.
func TestCatalogue_HasEveryKeyMadeOfAValue(t *testing.T) {
	t.Parallel()
	keys := []string{"outcomespage.by-all", "outcomespage.survival-all"}
	for _, by := range outcomes.Bys() {
		keys = append(keys, "outcomespage.by-"+by.String(), "outcomespage.survival-"+by.String(), "outcomes.read.mix."+by.String())
	}
	for _, event := range outcomes.Events() {
		keys = append(keys, event.Word())
	}
	for _, rule := range stats.WesternElectricRules() {
		keys = append(keys, "signal."+rule.Name)
	}
	for _, side := range []string{"high", "low"} {
		keys = append(keys, "outcomes.read.funnel."+side+"-warning", "outcomes.read.funnel."+side+"-action")
	}
	for _, kind := range []string{"svg", "png", "csv"} {
		keys = append(keys, "outcomespage.as-"+kind)
	}
	for _, reason := range line.Reason(0).All() {
		keys = append(keys, reason.Word())
	}
	for _, role := range account.Roles {
		keys = append(keys, "greeting.one."+string(role), "greeting.two."+string(role), "greeting.three."+string(role))
	}
	for _, key := range keys {
		require.True(t, words.Known(key), key)
	}
}
