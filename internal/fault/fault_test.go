package fault_test

import (
	"errors"
	"fmt"
	"io"
	"testing"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/fault"
)

func TestKindOf(t *testing.T) {
	t.Parallel()
	missing := fault.New(fault.NotFound, "fault.no-such-page")
	for _, c := range []struct {
		name string
		err  error
		want fault.Kind
	}{
		{"none", nil, fault.Internal},
		{"nobody classified it", io.EOF, fault.Internal},
		{"classified", missing, fault.NotFound},
		{"wrapped by others", fmt.Errorf("load: %w", missing), fault.NotFound},
		{"joined with others", errors.Join(io.EOF, missing), fault.NotFound},
		{"the outermost counts", fault.Wrap(missing, fault.Busy, "store.busy"), fault.Busy},
		{"of a field", fault.Field("gauge", "check.gauge"), fault.Invalid},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			require.Equal(t, c.want, fault.KindOf(c.err))
			for _, k := range fault.Kinds() {
				require.Equal(t, c.err != nil && k == c.want, fault.Is(c.err, k), "%s", k)
			}
		})
	}
}

func TestKinds_HaveNamesOfTheirOwn(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, k := range fault.Kinds() {
		require.NotEmpty(t, k.String())
		require.False(t, seen[k.String()], "%s", k)
		seen[k.String()] = true
	}
	require.Equal(t, fault.Expired, fault.Kinds()[len(fault.Kinds())-1])
	require.Equal(t, "internal", fault.Kind(200).String(), "a kind that is none is our own failing")
}

func TestError_SaysForTheLogWhatWasWrong(t *testing.T) {
	t.Parallel()
	err := fault.Wrap(io.ErrUnexpectedEOF, fault.Conflict, "store.same-id", "id", "e-1", "odd")
	require.Equal(t, "conflict: store.same-id id=e-1: unexpected EOF", err.Error())
	require.ErrorIs(t, err, io.ErrUnexpectedEOF)
	fields := &fault.Error{Kind: fault.Invalid, Key: "fault.fields", Fields: fault.Fields{
		"site": {Key: "act.choose"}, "gauge": {Key: "act.number", Args: []any{"least", 1}},
	}}
	require.Equal(t, "invalid: fault.fields [gauge: act.number [least 1]] [site: act.choose []]", fields.Error(), "in one order each time")
	require.Equal(t, "invalid: fault.fields [gauge: act.number] [site: act.choose]", fields.Class(), "nothing of what was typed")
}
