package models

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestCheckPassword(t *testing.T) {
	t.Parallel()
	for _, good := range []string{"the tide is high at half past three", "vier Möwen auf dem Deich", "K8#vq!x2Lm0z$Rw", "鯨は夜に歌うことが多いと思う、たぶん。", strings.Repeat("two words ", 6) + "end"} {
		require.NoError(t, CheckPassword(good, "Ada Brook", "ada@example.com", "quay"), good)
	}
	for _, bad := range []string{"", "K8#vq!x2Lm0z$R", strings.Repeat("x", MinPassword), strings.Repeat("ab1", 10), "abcdefghijklmnopqrst", "98765432109876543210",
		"qwertyuiopasdfghjkl", "adabrookadabrook!", "Ada Brook, Ada Brook", "password password1", "1q2w3e4r5t6y7u8i9o0p", strings.Repeat("long ", 60), "not text \xff\xff\xff\xff\xff\xff\xff"} {
		require.Equal(t, CodeInvalid, CodeOf(CheckPassword(bad, "Ada Brook", "ada@example.com", "quay")), bad)
	}
	require.Equal(t, Password("Möwen"), Password("Mo\u0308wen"), "composed and decomposed letters are the same")
}

// Rows of keys in some order are made of no common word; only the list knows them.
func TestPasswordsFromLeaksAreRefusedInAnyCase(t *testing.T) {
	t.Parallel()
	for _, bad := range []string{"1qazxsw23edcvfr4", "1QAZXSW23edcvfr4", "qwertasdfgzxcvb", "1324354657687980"} {
		require.ErrorContains(t, CheckPassword(bad), "leaks", bad)
	}
	require.NoError(t, CheckPassword("1qazxsw23edcvfr4 and the tide"))

	require.Zero(t, len(leaked)%leakedSize)
	require.Greater(t, len(leaked)/leakedSize, 9000)
	for i := leakedSize; i < len(leaked); i += leakedSize {
		require.Less(t, leaked[i-leakedSize:i], leaked[i:i+leakedSize], "in order, each once")
	}
}

func TestSignInNamesAreNormalised(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{" Ada@Example.COM ": "ada@example.com", "BEN": "ben", "ﬁn": "fin", "michi-2": "michi-2", "лена": "лена"} {
		got, ok := SignInName(typed)
		require.True(t, ok, typed)
		require.Equal(t, want, got)
	}
	for _, typed := range []string{"", "a", "a b", "-a", "a/b", "a\nb", strings.Repeat("a", 201)} {
		_, ok := SignInName(typed)
		require.False(t, ok, typed)
	}
}

func TestPairingCodesAreNormalised(t *testing.T) {
	t.Parallel()
	for _, typed := range []string{"ACD349", "acd 349", "a-c-d-3-4-9", "ACD\u00a0349"} {
		code, ok := PairingCode(typed)
		require.True(t, ok, typed)
		require.Equal(t, "ACD349", code)
	}
	for _, typed := range []string{"", "ACD34", "ACD3499", "ACD340", "ACD34O"} {
		_, ok := PairingCode(typed)
		require.False(t, ok, typed)
	}
}
