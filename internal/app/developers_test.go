package app_test

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/interop"
	"dwellbook/internal/line"
)

func TestDevelopersGuide_ShowsOneEntryOfEachKind(t *testing.T) {
	t.Parallel()
	guide, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	var examples strings.Builder
	for _, l := range strings.Split(string(guide), "\n") {
		if example, ok := strings.CutPrefix(l, `    {"entry"`); ok {
			examples.WriteString(`{"entry"` + example + "\n")
		}
	}
	shown := map[line.Kind]bool{}
	err = interop.ReadEntries(strings.NewReader(examples.String()), func(_ int, raw []byte, _ []line.Sealed) error {
		e, err := line.Decode(raw, nil)
		shown[e.Kind] = true
		return err
	})
	require.NoError(t, err)
	for _, k := range line.Kind(0).All() {
		require.True(t, shown[k], "no example of a %s entry", k)
	}
}

func TestDevelopersGuide_ShowsTheRights(t *testing.T) {
	t.Parallel()
	guide, err := os.ReadFile("../../DEVELOPERS.md")
	require.NoError(t, err)
	for _, right := range account.Rights {
		row := regexp.MustCompile(`(?m)^\| ` + string(right) + `\b[^|]*\|(.*)\|$`).FindStringSubmatch(string(guide))
		require.NotNil(t, row, "no row for %s", right)
		cells := strings.Split(row[1], "|")
		require.Len(t, cells, len(account.Roles))
		for i, role := range account.Roles {
			require.Equal(t, role.May(right), strings.TrimSpace(cells[i]) == "yes", "%s for a %s", right, role)
		}
	}
}
