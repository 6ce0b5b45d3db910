package app_test

import (
	"encoding/json"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// allowed is which packages of the house each may import: one direction.
var allowed = map[string][]string{
	"internal/line":     {},
	"internal/flow":     {},
	"internal/fault":    {},
	"internal/stats":    {},
	"internal/words":    {"internal/line"},
	"internal/account":  {"internal/fault"},
	"internal/audit":    {"internal/line", "internal/flow"},
	"internal/outcomes": {"internal/line", "internal/stats"},
	"internal/interop":  {"internal/line", "internal/fault"},
	"internal/proof":    {"internal/fault"},
	"internal/store":    {"internal/line", "internal/account", "internal/fault", "internal/proof", "migrations"},
	"internal/demo":     {"internal/line", "internal/audit"},
	"internal/delivery": {},
	"internal/desk": {"internal/line", "internal/audit", "internal/outcomes", "internal/flow", "internal/account", "internal/fault", "internal/proof",
		"internal/words", "internal/delivery"},
	"internal/app/torture": {},
	"migrations":           {},
	"web/static":           {},
	"web/chart":            {},
	"web/view": {"internal/line", "internal/audit", "internal/outcomes", "internal/flow", "internal/stats", "internal/account", "internal/fault", "internal/proof",
		"internal/words", "internal/desk", "web/static", "web/chart"},
	"web": {"internal/line", "internal/audit", "internal/outcomes", "internal/flow", "internal/account", "internal/fault", "internal/proof", "internal/words",
		"internal/interop", "internal/desk", "internal/delivery", "web/view", "web/static", "web/chart"},
	"cmd/server": {"internal/app"},
}

func TestHouse_HasOneDirection(t *testing.T) {
	t.Parallel()
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "dwellbook/...").Output()
	require.NoError(t, err)
	for dec := json.NewDecoder(strings.NewReader(string(out))); dec.More(); {
		var p struct {
			ImportPath string
			Imports    []string
		}
		require.NoError(t, dec.Decode(&p))
		name := strings.TrimPrefix(p.ImportPath, "dwellbook/")
		if name == "internal/app" { // the one place that may see everything
			continue
		}
		may, known := allowed[name]
		require.True(t, known, "package %s has no place in the house", name)
		for _, i := range p.Imports {
			ours, is := strings.CutPrefix(i, "dwellbook/")
			require.True(t, !is || slices.Contains(may, ours), "%s may not import %s", name, ours)
		}
	}
}
