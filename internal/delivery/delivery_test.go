package delivery_test

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/delivery"
)

var noon = time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)

func newKey(t *testing.T) *delivery.Key {
	t.Helper()
	k, err := delivery.NewKey()
	require.NoError(t, err)
	return k
}

// typed is an entry with its author's grant.
func typed(t *testing.T, k *delivery.Key) delivery.Entry {
	t.Helper()
	grant, err := k.Sign(delivery.GrantFor("nell", "tablet", "hash", noon))
	require.NoError(t, err)
	return delivery.Entry{
		ID: "d-1", Author: "nell", Device: "tablet", Grant: grant, Granted: noon, Captured: noon.Add(time.Hour),
		Path: "/lines/line-1/review", Form: "entry=e-1&note=cold+to+the+touch",
	}
}

func sealed(t *testing.T, k *delivery.Key, e delivery.Entry) []byte {
	t.Helper()
	b, err := delivery.Seal(k.Public(), e)
	require.NoError(t, err)
	return b
}

func TestOpen_GivesBackWhatWasSealed(t *testing.T) {
	t.Parallel()
	k := newKey(t)
	e := typed(t, k)
	again, err := delivery.ParseKey(k.Secret())
	require.NoError(t, err)
	got, grant, err := again.Open(sealed(t, k, e))
	require.NoError(t, err)
	require.Equal(t, e, got)
	require.Equal(t, "nell", grant.Account)
	require.Equal(t, noon, grant.Issued)
}

// Encapsulated key and tag: RFC 9180, sections 7.1 (Nenc 65) and 7.3 (Nt 16).
func TestSeal_ShowsNothingAndIsNewEachTime(t *testing.T) {
	t.Parallel()
	k := newKey(t)
	e := typed(t, k)
	one, two := sealed(t, k, e), sealed(t, k, e)
	require.NotEqual(t, one, two)
	for _, word := range []string{"nell", "tablet", "line-1", "cold", e.Grant} {
		require.False(t, bytes.Contains(one, []byte(word)), "%q can be read", word)
	}
	text, err := json.Marshal(e)
	require.NoError(t, err)
	require.Len(t, one, 65+len(text)+16)
}

func TestOpen_RefusesWhatIsNotItsAuthors(t *testing.T) {
	t.Parallel()
	k, other := newKey(t), newKey(t)
	for name, change := range map[string]func(*delivery.Entry){
		"another author":      func(e *delivery.Entry) { e.Author = "ben" },
		"another device":      func(e *delivery.Entry) { e.Device = "phone" },
		"no grant":            func(e *delivery.Entry) { e.Grant = "" },
		"no number":           func(e *delivery.Entry) { e.ID = "" },
		"a grant cut short":   func(e *delivery.Entry) { e.Grant = e.Grant[:len(e.Grant)-2] },
		"a grant made longer": func(e *delivery.Entry) { e.Grant = "x" + e.Grant },
		"another's signature": func(e *delivery.Entry) {
			e.Grant, _ = other.Sign(delivery.GrantFor("nell", "tablet", "hash", noon))
		},
	} {
		e := typed(t, k)
		change(&e)
		_, _, err := k.Open(sealed(t, k, e))
		require.ErrorIs(t, err, delivery.ErrUnreadable, name)
	}
	_, _, err := other.Open(sealed(t, k, typed(t, k)))
	require.ErrorIs(t, err, delivery.ErrUnreadable, "another server's key")
}

func TestOpen_RefusesEverythingThatWasTouched(t *testing.T) {
	t.Parallel()
	k := newKey(t)
	whole := sealed(t, k, typed(t, k))
	rapid.Check(t, func(rt *rapid.T) {
		b := bytes.Clone(whole)
		if rapid.Bool().Draw(rt, "cut") {
			b = b[:rapid.IntRange(0, len(b)-1).Draw(rt, "to")]
		} else {
			b[rapid.IntRange(0, len(b)-1).Draw(rt, "at")] ^= byte(rapid.IntRange(1, 255).Draw(rt, "by"))
		}
		_, _, err := k.Open(b)
		require.ErrorIs(rt, err, delivery.ErrUnreadable)
	})
}

func TestGrant_CountsForItsPassphraseAndItsTime(t *testing.T) {
	t.Parallel()
	g := delivery.GrantFor("nell", "tablet", "hash", noon)
	for _, c := range []struct {
		name, secret string
		after        time.Duration
		want         bool
	}{
		{"at once", "hash", 0, true}, {"after the session", "hash", 14 * time.Hour, true}, {"a week later", "hash", 7 * 24 * time.Hour, true},
		{"later than a week", "hash", 7*24*time.Hour + time.Second, false}, {"with a new passphrase", "hash 2", 0, false}, {"with none", "", 0, false},
	} {
		require.Equal(t, c.want, g.Counts(c.secret, noon.Add(c.after)), c.name)
	}
	require.NotContains(t, g.Mark, "hash")
}

func TestAhead_IsTakenUpToTwoMinutes(t *testing.T) {
	t.Parallel()
	const day = 24 * time.Hour
	grant := delivery.GrantFor("nell", "tablet", "hash", noon.Add(-day))
	for _, c := range []struct {
		name                    string
		granted, captured, sent time.Duration // as the device told them, against the server's noon
		ahead                   time.Duration
		trusted                 bool
	}{
		{"right", -day, -time.Hour, 0, 0, true},
		{"two minutes ahead", -day, 0, 2 * time.Minute, 2 * time.Minute, true},
		{"a second more", -day, 0, 2*time.Minute + time.Second, 2*time.Minute + time.Second, false},
		{"two minutes behind", -day, -time.Hour, -2 * time.Minute, -2 * time.Minute, true},
		{"an hour behind", -day - time.Hour, -2 * time.Hour, -time.Hour, -time.Hour, false},
		{"an hour behind until it was put right", -day - time.Hour, -2 * time.Hour, 0, -time.Hour, false},
		{"typed after it was sent", -day, time.Hour, 0, 0, false},
		{"typed before its author had signed in", -day, -2 * day, 0, 0, false},
	} {
		e := delivery.Entry{Granted: noon.Add(c.granted), Captured: noon.Add(c.captured)}
		ahead, trusted := e.Ahead(grant, noon.Add(c.sent), noon)
		require.Equal(t, c.ahead, ahead, c.name)
		require.Equal(t, c.trusted, trusted, c.name)
	}
}
