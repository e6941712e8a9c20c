package api_test

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A calculation belongs to no site: its sentences are in the language that the request asks for.
func TestCalculationsSpeakTheLanguageOfTheRequest(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	for accepted, want := range map[string]struct{ language, caution, said string }{
		"":                        {"en", "Hot brew", "1.78% strength"},
		"de":                      {"de", "Heißer Kaffee", "1,78\u202f% Stärke"},
		"de-AT,de;q=0.9,en;q=0.5": {"de", "Heißer Kaffee", "1,78\u202f% Stärke"},
		"en-GB,de;q=0.5":          {"en", "Hot brew", "1.78% strength"},
		"fr, ja;q=0.5":            {"en", "Hot brew", "1.78% strength"},
		"de;q=none":               {"en", "Hot brew", "1.78% strength"},
	} {
		a := b.do(call{method: "POST", path: "/v1/calc/extraction", body: map[string]any{"dose_g": 20, "brew_water_g": 240}, header: map[string]string{"Accept-Language": accepted}})
		a.is(200)
		require.Equal(t, want.language, a.header.Get("Content-Language"), accepted)
		require.Contains(t, a.header.Values("Vary"), "Accept-Language", accepted)
		require.Contains(t, string(a.body), want.caution, accepted)
		require.Contains(t, string(a.body), want.said, accepted)
	}
}
