package app_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// licences are the ones we may link, each by words that stand in its text and
// in no other's (texts as published by the Open Source Initiative).
var licences = map[string]string{
	"MIT":          "Permission is hereby granted, free of charge",
	"BSD-3-Clause": "Neither the name",
	"Apache-2.0":   "Apache License",
	"FTL":          "The FreeType License", // one of two to choose from
}

// The guide lists every module that is linked into the program, with the
// licence whose text lies in the module.
func TestDevelopersGuide_ListsTheLicenceOfEverythingLinked(t *testing.T) {
	t.Parallel()
	guide, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	_, section, found := strings.Cut(string(guide), "\n## Licences of what is linked\n")
	require.True(t, found)
	section, _, _ = strings.Cut(section, "\n## ")
	listed := map[string]string{}
	for _, row := range regexp.MustCompile(`(?m)^\| ([^ |]+\.[^ |]+) \| ([^ |]+) \|$`).FindAllStringSubmatch(section, -1) {
		listed[row[1]] = row[2]
	}
	out, err := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{.Path}} {{.Dir}}{{end}}", "dwellbook/cmd/server").Output()
	require.NoError(t, err)
	linked := map[string]bool{}
	for _, l := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		module, dir, _ := strings.Cut(l, " ")
		if module == "" || module == "dwellbook" || linked[module] {
			continue
		}
		linked[module] = true
		words, known := licences[listed[module]]
		require.True(t, known, "%s: the guide names no licence of it that we may link", module)
		files, err := filepath.Glob(filepath.Join(dir, "LICENSE*"))
		require.NoError(t, err)
		sort.Strings(files)
		require.NotEmpty(t, files, module)
		text, err := os.ReadFile(files[0])
		require.NoError(t, err)
		require.Contains(t, strings.Join(strings.Fields(string(text)), " "), words, module)
	}
	for module := range listed {
		require.True(t, linked[module], "%s is listed and no longer linked", module)
	}
	require.Greater(t, len(linked), 20)
}
