package proof_test

import (
	"crypto/ed25519"
	"crypto/rand"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"dwellbook/internal/fault"
	"dwellbook/internal/proof"
)

// The leaves and roots of the reference implementation of RFC 6962 (the
// certificate-transparency project's Merkle tree tests); from memory.
func TestEdge_HasTheRootsOfTheReference(t *testing.T) {
	t.Parallel()
	leaves := []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"}
	roots := []string{
		"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
		"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
		"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
		"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
		"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
		"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
	}
	var e proof.Edge
	for i, leaf := range leaves {
		data, err := hex.DecodeString(leaf)
		require.NoError(t, err)
		e.Add(tlog.RecordHash(data))
		root := e.Root()
		require.Equal(t, roots[i], hex.EncodeToString(root[:]), "%d leaves", i+1)
	}
}

// kept is a log in memory.
type kept [][]byte

func (k kept) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	hashes := make([]tlog.Hash, len(indexes))
	for i, index := range indexes {
		seq, level := proof.KeptWith(index)
		copy(hashes[i][:], k[seq-1][level*tlog.HashSize:])
	}
	return hashes, nil
}

func leafOf(n int) tlog.Hash { return tlog.RecordHash(fmt.Appendf(nil, "entry %d", n)) }

// grown is a log of n entries, and its edges by size.
func grown(n int) (kept, []proof.Edge) {
	var k kept
	var e proof.Edge
	edges := []proof.Edge{e.Clone()}
	for i := range n {
		k = append(k, proof.Pack(e.Add(leafOf(i))))
		edges = append(edges, e.Clone())
	}
	return k, edges
}

func TestEdge_IsReadAgainFromWhatWasKept(t *testing.T) {
	t.Parallel()
	k, edges := grown(70)
	for size := range int64(71) {
		again, err := proof.ReadEdge(size, k)
		require.NoError(t, err)
		require.Equal(t, edges[size].Root(), again.Root())
		if size < 70 {
			require.Equal(t, []byte(k[size]), proof.Pack(again.Add(leafOf(int(size)))))
		}
		for old := int64(1); old <= size; old++ {
			shown, err := tlog.ProveTree(size, old, k)
			require.NoError(t, err)
			require.NoError(t, tlog.CheckTree(shown, size, edges[size].Root(), old, edges[old].Root()))
		}
	}
}

func TestComparison_NamesWhatDiffers(t *testing.T) {
	t.Parallel()
	const n = 11
	compare := func(spoil func(entries []tlog.Hash, k kept) ([]tlog.Hash, kept)) []proof.Problem {
		k, _ := grown(n)
		entries := make([]tlog.Hash, n)
		for i := range entries {
			entries[i] = leafOf(i)
		}
		if spoil != nil {
			entries, k = spoil(entries, k)
		}
		c := proof.NewComparison(int64(len(entries) + len(k)))
		for i, e := range entries {
			if e != (tlog.Hash{}) {
				c.Entry(int64(i+1), e)
			}
		}
		for i, packed := range k {
			if packed != nil {
				c.Kept(int64(i+1), packed)
			}
		}
		return c.Problems()
	}
	other := leafOf(99)
	type hashes = []tlog.Hash
	for name, c := range map[string]struct {
		spoil func(hashes, kept) (hashes, kept)
		want  []proof.Problem
	}{
		"nothing":          {nil, nil},
		"changed":          {func(e hashes, k kept) (hashes, kept) { e[4] = other; return e, k }, []proof.Problem{{Seq: 5, What: proof.Changed}}},
		"changed, right":   {func(e hashes, k kept) (hashes, kept) { e[5] = other; return e, k }, []proof.Problem{{Seq: 6, What: proof.Changed}}},
		"changed, the end": {func(e hashes, k kept) (hashes, kept) { e[10] = other; return e, k }, []proof.Problem{{Seq: 11, What: proof.Changed}}},
		"missing":          {func(e hashes, k kept) (hashes, kept) { e[4] = tlog.Hash{}; return e, k }, []proof.Problem{{Seq: 5, What: proof.Missing}}},
		"the end missing":  {func(e hashes, k kept) (hashes, kept) { return e[:9], k }, []proof.Problem{{Seq: 10, What: proof.Missing}, {Seq: 11, What: proof.Missing}}},
		"added":            {func(e hashes, k kept) (hashes, kept) { return append(e, other), k }, []proof.Problem{{Seq: 12, What: proof.Inserted}}},
		"two have changed places": {func(e hashes, k kept) (hashes, kept) { e[2], e[7] = e[7], e[2]; return e, k },
			[]proof.Problem{{Seq: 3, What: proof.Moved, From: 8}, {Seq: 8, What: proof.Moved, From: 3}}},
		"taken out, the rest moved up": {func(e hashes, k kept) (hashes, kept) { return append(e[:8], e[9:]...), k },
			[]proof.Problem{{Seq: 9, What: proof.Moved, From: 10}, {Seq: 10, What: proof.Moved, From: 11}}},
		"put in, the rest moved on": {func(e hashes, k kept) (hashes, kept) { return append(e[:9:9], append(hashes{other}, e[9:]...)...), k },
			[]proof.Problem{{Seq: 10, What: proof.Inserted}, {Seq: 11, What: proof.Moved, From: 10}, {Seq: 12, What: proof.Moved, From: 11}}},
		"a leaf's hash":         {func(e hashes, k kept) (hashes, kept) { k[4][3] ^= 1; return e, k }, []proof.Problem{{Seq: 5, What: proof.Kept}}},
		"a right leaf's hash":   {func(e hashes, k kept) (hashes, kept) { k[5][3] ^= 1; return e, k }, []proof.Problem{{Seq: 6, What: proof.Kept}}},
		"a hash above":          {func(e hashes, k kept) (hashes, kept) { k[7][70] ^= 1; return e, k }, []proof.Problem{{Seq: 8, What: proof.Kept}}},
		"hashes that are gone":  {func(e hashes, k kept) (hashes, kept) { k[4] = nil; return e, k }, []proof.Problem{{Seq: 5, What: proof.Kept}}},
		"hashes that are short": {func(e hashes, k kept) (hashes, kept) { k[7] = k[7][:32]; return e, k }, []proof.Problem{{Seq: 8, What: proof.Kept}}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			got := compare(c.spoil)
			require.Equal(t, c.want, got)
		})
	}
}

func TestComparison_SurvivesNumbersThatCannotBe(t *testing.T) {
	t.Parallel()
	c := proof.NewComparison(2)
	c.Entry(-1, leafOf(1))
	c.Entry(1<<60, leafOf(2))
	require.Equal(t, []proof.Problem{{Seq: -1, What: proof.Inserted}, {Seq: 1 << 60, What: proof.Inserted}}, c.Problems())
}

func TestLeaf_CoversEveryField(t *testing.T) {
	t.Parallel()
	of := func(change func(*proof.Leaf)) tlog.Hash {
		l := proof.Leaf{ID: "e1", Kind: 1, Subject: 2, Root: 3, RecordedMS: 4, ReceivedMS: 5, Format: 6, Texts: 7, Canonical: []byte("{}")}
		change(&l)
		return l.Hash()
	}
	seen := map[tlog.Hash]bool{of(func(*proof.Leaf) {}): true}
	for _, change := range []func(*proof.Leaf){
		func(l *proof.Leaf) { l.ID = "e2" }, func(l *proof.Leaf) { l.Kind++ }, func(l *proof.Leaf) { l.Subject++ }, func(l *proof.Leaf) { l.Root++ },
		func(l *proof.Leaf) { l.RecordedMS++ }, func(l *proof.Leaf) { l.ReceivedMS++ }, func(l *proof.Leaf) { l.Format++ }, func(l *proof.Leaf) { l.Texts++ },
		func(l *proof.Leaf) { l.Canonical = []byte("{ }") },
	} {
		h := of(change)
		require.False(t, seen[h])
		seen[h] = true
	}
}

var moment = time.Date(2026, 3, 4, 15, 10, 7, 0, time.UTC)

func signed(t require.TestingT) proof.Signed {
	key, err := proof.NewKey(rand.Reader, "dwellbook/7f3a")
	require.NoError(t, err)
	again, err := proof.ParseKey(key.String())
	require.NoError(t, err)
	s, err := again.Sign(1234, leafOf(1), moment)
	require.NoError(t, err)
	return s
}

// The lines are those of a checkpoint: C2SP tlog-checkpoint and signed-note,
// checked here by the standard library's Ed25519 alone.
func TestSign_WritesACheckpointThatOthersCanCheck(t *testing.T) {
	t.Parallel()
	s := signed(t)
	body, signature, ok := strings.Cut(s.Text, "\n\n")
	require.True(t, ok)
	lines := strings.Split(body, "\n")
	root := leafOf(1)
	require.Equal(t, []string{"dwellbook/7f3a", "1234", base64.StdEncoding.EncodeToString(root[:]), "time 2026-03-04T15:10:07Z"}, lines[:4])
	parts := strings.SplitN(strings.TrimPrefix(lines[4], "key "), "+", 3)
	public, err := base64.StdEncoding.DecodeString(parts[2])
	require.NoError(t, err)
	require.EqualValues(t, 1, public[0], "the sign of Ed25519")
	fields := strings.Fields(signature)
	require.Equal(t, []string{"—", "dwellbook/7f3a"}, fields[:2])
	sum, err := base64.StdEncoding.DecodeString(fields[2])
	require.NoError(t, err)
	require.Equal(t, parts[1], hex.EncodeToString(sum[:4]))
	require.True(t, ed25519.Verify(public[1:], []byte(body+"\n"), sum[4:]))
}

func TestReadHead_ReadsWhatWasSignedAndNothingElse(t *testing.T) {
	t.Parallel()
	s := signed(t)
	for _, text := range []string{s.Text, strings.ReplaceAll(s.Text, "\n", "\r\n"), "\n" + s.Text + "\n\n"} {
		got, err := proof.ReadHead([]byte(text))
		require.NoError(t, err)
		require.Equal(t, s.Head, got.Head)
		require.Equal(t, s.Key, got.Key)
	}
	for _, text := range []string{"", "hello", strings.Repeat("a\n", 20)} {
		_, err := proof.ReadHead([]byte(text))
		require.Equal(t, fault.Invalid, fault.KindOf(err))
	}
	rapid.Check(t, func(rt *rapid.T) {
		raw := []byte(strings.TrimSpace(s.Text))
		i := rapid.IntRange(0, len(raw)-1).Draw(rt, "at")
		raw[i] ^= 1 << rapid.IntRange(0, 7).Draw(rt, "bit")
		got, err := proof.ReadHead(raw)
		if err == nil { // white space at an end, or spare bits of base64
			require.Equal(rt, s.Head, got.Head)
			require.Equal(rt, s.Key, got.Key)
		}
	})
}
