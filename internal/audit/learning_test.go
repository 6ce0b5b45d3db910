package audit_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/audit"
)

func TestPolicy_SetsHowLearningIsFollowed(t *testing.T) {
	t.Parallel()
	require.Equal(t, audit.Learning{Acceptable: 0.2, Unacceptable: 0.4, Alpha: 0.1, Beta: 0.1, Difficulty: true}, audit.DefaultPolicy().Learning())
	p, err := audit.ParsePolicy("ours.toml", []byte(`
[learning]
acceptable = 0.15
unacceptable = 0.3
alpha = 0.05
beta = 0.2
learning_limit = 2
watch_limit = 3.5
supervised_successes = 20
difficulty = false
`))
	require.NoError(t, err)
	require.Equal(t, audit.Learning{
		Acceptable: 0.15, Unacceptable: 0.3, Alpha: 0.05, Beta: 0.2, LearningLimit: 2, WatchLimit: 3.5, SupervisedSuccesses: 20,
	}, p.Learning())
}

func TestParsePolicy_RefusesLearningThatDecidesNothing(t *testing.T) {
	t.Parallel()
	for name, tt := range map[string]struct {
		text string
		want audit.PolicyError
	}{
		"a rate off the scale": {"[learning]\nacceptable = 1.5\n",
			audit.PolicyError{Line: 2, Key: "learning.acceptable", Problem: "1.5 is out of range", Allowed: "a number from 0.01 to 0.9"}},
		"a rate that is no number": {"[learning]\nunacceptable = \"40 %\"\n",
			audit.PolicyError{Line: 2, Key: "learning.unacceptable", Problem: "40 % is no number", Allowed: "a number from 0.02 to 0.95"}},
		"the wrong way round": {"[learning]\nacceptable = 0.4\nunacceptable = 0.2\n",
			audit.PolicyError{Line: 3, Key: "learning.unacceptable", Problem: "acceptable is 0.4, unacceptable 0.2", Allowed: "unacceptable at least 0.05 above acceptable"}},
		"above the default it leaves": {"[learning]\nacceptable = 0.4\n",
			audit.PolicyError{Line: 2, Key: "learning.acceptable", Problem: "acceptable is 0.4, unacceptable 0.4", Allowed: "unacceptable at least 0.05 above acceptable"}},
		"a limit of nothing": {"[learning]\nwatch_limit = 0\n",
			audit.PolicyError{Line: 2, Key: "learning.watch_limit", Problem: "0 is out of range", Allowed: "a number from 0.1 to 20"}},
		"half a success": {"[learning]\nsupervised_successes = 2.5\n",
			audit.PolicyError{Line: 2, Key: "learning.supervised_successes", Problem: "2.5 is no whole number", Allowed: "a whole number from 0 to 500"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := audit.ParsePolicy("ours.toml", []byte(tt.text))
			var got *audit.PolicyError
			require.True(t, errors.As(err, &got), "%v", err)
			tt.want.File = "ours.toml"
			require.Equal(t, tt.want, *got)
		})
	}
	_, err := audit.ParsePolicy("ours.toml", []byte("[learning]\nacceptible = 0.2\n"))
	require.ErrorContains(t, err, "learning.acceptible: there is no such key")
}

func TestEdit_SetsAndUnsetsAnOptionalNumber(t *testing.T) {
	t.Parallel()
	text, err := audit.DefaultPolicy().Edit(map[string]string{"learning.watch_limit": "3.25", "learning.acceptable": "0.15"})
	require.NoError(t, err)
	p, err := audit.ParsePolicy("edited", text)
	require.NoError(t, err)
	require.Equal(t, 3.25, p.Learning().WatchLimit)
	require.Equal(t, 0.15, p.Learning().Acceptable)
	text, err = p.Edit(map[string]string{"learning.watch_limit": ""})
	require.NoError(t, err)
	p, err = audit.ParsePolicy("edited", text)
	require.NoError(t, err)
	require.Zero(t, p.Learning().WatchLimit)
	_, err = p.Edit(map[string]string{"learning.acceptable": "a fifth"})
	require.ErrorContains(t, err, "a number from 0.01 to 0.9")
}
