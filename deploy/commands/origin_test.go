package commands

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestOriginsAreReadAsBrowsersSendThem(t *testing.T) {
	t.Parallel()
	for given, want := range map[string]string{"https://app.example.com": "https://app.example.com", "HTTPS://App.Example.com:443/": "https://app.example.com",
		"http://localhost:5173": "http://localhost:5173", "http://[::1]:80": "http://[::1]"} {
		var o webOrigin
		require.NoError(t, o.UnmarshalText([]byte(given)), given)
		require.Equal(t, webOrigin(want), o)
	}
	for _, bad := range []string{"*", "null", "", "app.example.com", "https://*.example.com", "https://example.com/app", "https://ada@example.com", "file:///x", "https://example.com?x"} {
		var o webOrigin
		require.ErrorContains(t, o.UnmarshalText([]byte(bad)), "https://app.example.com", bad)
	}
}
