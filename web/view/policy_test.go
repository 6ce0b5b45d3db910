package view

import (
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
	"dwellbook/internal/line"
)

// Every key of a policy file has a name on screen, every choice a word.
func TestFieldLabel_EveryKeyHasOne(t *testing.T) {
	t.Parallel()
	rules := []line.Rule{""}
	for _, r := range audit.Rules() {
		rules = append(rules, r.Rule)
	}
	for _, rule := range rules {
		for _, f := range audit.DefaultPolicy().Fields(rule) {
			label := fieldLabel(t.Context(), rule, f.Key)
			require.NotContains(t, label, "[", f.Key)
			for _, c := range f.Choices {
				require.NotContains(t, choiceWord(t.Context(), c), "-")
			}
		}
		if rule != "" {
			for _, f := range figures(audit.DefaultPolicy(), rule) {
				require.NotContains(t, []string{"on", "severity", "why", "source"}, f.Key[len(rule)+1:])
			}
		}
	}
}

func TestSigned(t *testing.T) {
	t.Parallel()
	require.Equal(t, []string{"+3", "0", "−2"}, []string{signed(3), signed(0), signed(-2)})
	require.Equal(t, []string{"+0.1", "0.0", "0.0", "−1.2"}, []string{signedDecimal(t.Context(), .06), signedDecimal(t.Context(), .04), signedDecimal(t.Context(), -.04), signedDecimal(t.Context(), -1.2)})
}
