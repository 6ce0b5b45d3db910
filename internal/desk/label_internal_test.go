package desk

import (
	"crypto/aes"
	"encoding/hex"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/line"
)

// NIST AESAVS, KeySbox for 256 bits, first case (from memory): of a block of
// zeros, which is the code of no line.
func TestLabelCode_IsABlockOfAES(t *testing.T) {
	t.Parallel()
	key, err := hex.DecodeString("c47b0294dbbbee0fec4757f22ffeee3587ca4730c3d33b691df38bab076bc558")
	require.NoError(t, err)
	c, err := aes.NewCipher(key)
	require.NoError(t, err)
	b, err := labelForm.DecodeString(sealLine(c, 0))
	require.NoError(t, err)
	require.Equal(t, "46f2fb342d6f0ab477476fc501242c5f", hex.EncodeToString(b))
}

func TestHazard03_ALabelOpensItsLineAndNoOther(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		keys := rapid.SliceOfN(rapid.Byte(), 32, 32)
		own, err := aes.NewCipher(keys.Draw(t, "key"))
		require.NoError(t, err)
		other, err := aes.NewCipher(append(keys.Draw(t, "another")[:31:31], 1))
		require.NoError(t, err)
		l := line.Key(rapid.Int64Range(1, 1<<62).Draw(t, "line"))
		code := sealLine(own, l)
		require.Len(t, code, 22)
		opened, ok := openLine(own, code)
		require.True(t, ok)
		require.Equal(t, l, opened)
		require.NotEqual(t, code, sealLine(own, l+1))
		if sealLine(other, l) != code {
			_, ok = openLine(other, code)
			require.False(t, ok, "a label of another record")
		}
		changed := []byte(code)
		i := rapid.IntRange(0, len(code)-1).Draw(t, "letter")
		changed[i] ^= 1
		if _, ok = openLine(own, string(changed)); ok {
			t.Fatalf("%s opens too", changed)
		}
	})
}
