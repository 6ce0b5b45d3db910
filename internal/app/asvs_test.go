package app_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestASVS_NamesTestsThatExist(t *testing.T) {
	t.Parallel()
	table, err := os.ReadFile("asvs.md")
	require.NoError(t, err)
	named := regexp.MustCompile(`\b(?:Test|Fuzz)[A-Z]\w+`).FindAllString(string(table), -1)
	require.Greater(t, len(named), 50)
	declared := map[string]bool{}
	declaration := regexp.MustCompile(`(?m)^func ((?:Test|Fuzz)\w+)\(`)
	err = filepath.WalkDir("../..", func(path string, _ fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range declaration.FindAllStringSubmatch(string(text), -1) {
			declared[m[1]] = true
		}
		return err
	})
	require.NoError(t, err)
	for _, name := range named {
		require.True(t, declared[name], "the table names %s, which is not there", name)
	}
}
