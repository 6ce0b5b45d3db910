package desk_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/desk"
)

func TestDifferences_ShowsBothSidesWithTheirLines(t *testing.T) {
	t.Parallel()
	require.Empty(t, desk.Differences("a\nb\n", "a\r\nb\r\n"), "ends of lines are no difference")
	require.Equal(t, []desk.DiffLine{
		{Sign: ' ', Before: 1, After: 1, Text: "a"}, {Sign: '-', Before: 2, Text: "b"}, {Sign: '+', After: 2, Text: "c"}, {Sign: ' ', Before: 3, After: 3, Text: "d"},
	}, desk.Differences("a\nb\nd\n", "a\nc\nd\n"))
	long := strings.Repeat("same\n", 20)
	signs := ""
	for _, l := range desk.Differences("x\n"+long+"y\n", long) {
		signs += string(l.Sign)
	}
	require.Equal(t, "-  @  -", signs)
}

// Whatever two files there are, the lines not shown are the same in both, and
// each shown line stands where it says.
func TestDifferences_TellTheTruth(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		file := rapid.SliceOfN(rapid.SampledFrom([]string{"a", "b", "", "# c", "d = 1"}), 0, 12)
		before, after := file.Draw(t, "before"), file.Draw(t, "after")
		taken, added := 0, 0
		for _, l := range desk.Differences(strings.Join(before, "\n")+"\n", strings.Join(after, "\n")+"\n") {
			switch l.Sign {
			case '-':
				taken++
			case '+':
				added++
			}
			if l.Before > 0 && l.Before <= len(before) {
				require.Equal(t, before[l.Before-1], l.Text)
			}
			if l.After > 0 && l.After <= len(after) {
				require.Equal(t, after[l.After-1], l.Text)
			}
		}
		require.Equal(t, max(1, len(after))-max(1, len(before)), added-taken)
	})
}
