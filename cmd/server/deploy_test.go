package main

import (
	"bytes"
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What the unit and the container start is a command that there is, with flags
// that it has.
func TestDeploy_StartsWithFlagsThatThereAre(t *testing.T) {
	t.Parallel()
	var help bytes.Buffer
	require.Equal(t, done, run(t.Context(), []string{"serve", "-h"}, streams{&help, &help}))
	unit, err := os.ReadFile("deploy/dwellbook.service")
	require.NoError(t, err)
	started := regexp.MustCompile(`(?s)ExecStart=(.*?[^\\])\n`).FindStringSubmatch(string(unit))
	require.NotNil(t, started)
	container, err := os.ReadFile("deploy/Containerfile")
	require.NoError(t, err)
	list := regexp.MustCompile(`(?s)\nCMD (\[.*\])`).FindStringSubmatch(string(container))
	require.NotNil(t, list)
	var command []string
	require.NoError(t, json.Unmarshal([]byte(strings.ReplaceAll(list[1], "\\\n", "")), &command))
	for name, words := range map[string][]string{
		"unit": strings.Fields(strings.ReplaceAll(started[1], "\\\n", ""))[1:], "container": command,
	} {
		require.Equal(t, "serve", words[0], name)
		flags := 0
		for _, word := range words[1:] {
			if strings.HasPrefix(word, "-") {
				flags++
				require.Regexp(t, `(?m)^  `+word+`\b`, help.String(), name)
			}
		}
		require.Greater(t, flags, 5, name)
	}
}
