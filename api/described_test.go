package api_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/models"
)

func TestEveryPutSaysWhetherItReplacesOrMerges(t *testing.T) {
	t.Parallel()
	said := regexp.MustCompile(`^(Replaces|Merges by) `)
	puts := 0
	for path, item := range strictContract().Paths.Map() {
		if item.Put != nil {
			puts++
			require.Regexp(t, said, item.Put.Description, "PUT %s", path)
		}
	}
	require.Greater(t, puts, 20)
}

// The type of a problem document is the address of a page that explains it, in English and German.
func TestProblemTypesHaveAPage(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	types := map[string]bool{}
	for _, c := range models.Codes() {
		types["/problems/"+string(c)] = true
	}
	sources, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, name := range sources {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		for _, m := range regexp.MustCompile(`Type: "(/problems/\w+)"`).FindAllStringSubmatch(string(text), -1) {
			types[m[1]] = true
		}
	}
	require.Greater(t, len(types), 15)
	for path := range types {
		for lang, word := range map[string]string{"en": "API description", "de": "Beschreibung der Schnittstelle"} {
			page := b.raw(call{method: "GET", path: path, token: "-", header: map[string]string{"Accept-Language": lang}}).is(200)
			require.Contains(t, string(page.body), word, path)
			require.Contains(t, string(page.body), "<h1>", path)
			require.NotContains(t, string(page.body), "problems.", "%s has its texts", path)
		}
	}
	b.raw(call{method: "GET", path: "/problems/other", token: "-"}).is(404)
	followed := b.do(call{method: "GET", path: "/v1/sites/none/plans/latest"}).is(404).problem().Type
	b.raw(call{method: "GET", path: followed, token: "-"}).is(200)
}

func TestResponsesTellTheRateLimit(t *testing.T) {
	t.Parallel()
	b := newBundle(t, func(c *api.Config) { c.RatePerSecond = 2 })
	ask := func() answer { return b.get("/v1/sites") }
	a := ask().is(200)
	require.Equal(t, `"requests";q=8;w=4`, a.header.Get("RateLimit-Policy"))
	require.Equal(t, `"requests";r=7;t=1`, a.header.Get("RateLimit"))
	for left := 6; left >= 0; left-- {
		require.Contains(t, ask().is(200).header.Get("RateLimit"), "r="+strconv.Itoa(left)+";")
	}
	a = ask().is(429)
	require.Equal(t, `"requests";r=0;t=1`, a.header.Get("RateLimit"))
	require.Equal(t, "1", a.header.Get("Retry-After"))
	b.clock.advance(4e9)
	require.True(t, strings.Contains(ask().is(200).header.Get("RateLimit"), "r=7;"), "all have come back")
}
