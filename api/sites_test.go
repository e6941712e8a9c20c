package api_test

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func namedShop(code, name string) map[string]any {
	doc := shop(code)
	doc["site"].(map[string]any)["name"] = name
	return doc
}

func TestSitesAreListedInPagesAndSearched(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	for code, name := range map[string]string{"b-1": "Café Löwe", "b-2": "Strandbar", "b-3": "Strandcafé"} {
		b.put("/v1/sites/"+code+"/setup", namedShop(code, name)).is(201)
	}
	list := func(query, token string) (codes []string, next *string) {
		var got models.Rows[models.SiteSummary]
		b.do(call{method: "GET", path: "/v1/sites?" + query, token: token}).is(200).into(&got)
		for _, r := range got.Rows {
			codes = append(codes, r.Code)
		}
		return codes, got.Next
	}
	codes, next := list("limit=2", "")
	require.Equal(t, []string{"b-1", "b-2"}, codes)
	codes, next = list("limit=2&cursor="+*next, "")
	require.Equal(t, []string{"b-3"}, codes)
	require.Nil(t, next)
	for search, want := range map[string][]string{"strand": {"b-2", "b-3"}, "CAFE": {"b-1", "b-3"}, "café strand": {"b-3"}, "B-2": {"b-2"}, "none": nil} {
		codes, _ = list("search="+url.QueryEscape(search), "")
		require.Equal(t, want, codes, search)
	}
	codes, _ = list("search=strand", b.newToken("b-3", models.ScopeRead))
	require.Equal(t, []string{"b-3"}, codes, "within the token's reach")
	b.get("/v1/sites?search="+strings.Repeat("x", 201)).is(422).named("/search", "200")
	b.get("/v1/sites?cursor=x").is(422).named("/cursor", "")
}

func TestShopsAreChosenFromASearchableList(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	manager := b.newToken("", models.ScopeManage)
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	page := func(path, token string) answer {
		t.Helper()
		req, err := http.NewRequest("GET", b.base+path, nil)
		require.NoError(t, err)
		req.Header.Set("Authorization", "Bearer "+token)
		resp, err := client.Do(req)
		require.NoError(t, err)
		defer resp.Body.Close()
		body, err := io.ReadAll(resp.Body)
		require.NoError(t, err)
		return answer{t, resp.StatusCode, resp.Header, body}
	}

	require.Equal(t, "/s/quay/weekend", page("/", manager).header.Get("Location"), "with one shop there is nothing to choose")
	require.NotContains(t, string(page("/?choose=1", manager).is(200).body), `name="search"`)
	for n := range 60 {
		code := fmt.Sprintf("shop-%02d", n)
		b.put("/v1/sites/"+code+"/setup", namedShop(code, fmt.Sprintf("Filiale %02d", n))).is(201)
	}
	first := string(page("/", manager).is(200).body)
	require.Contains(t, first, `name="search"`)
	require.Equal(t, 50, strings.Count(first, `<li><a href="/s/`))
	_, rest, _ := strings.Cut(first, `href="/?cursor=`)
	require.NotEmpty(t, rest)
	cursor, _, _ := strings.Cut(rest, "&")
	second := string(page("/?cursor="+cursor, manager).is(200).body)
	require.Equal(t, 11, strings.Count(second, `<li><a href="/s/`))
	found := string(page("/?search=FILIALE+07", manager).is(200).body)
	require.Equal(t, 1, strings.Count(found, `<li><a href="/s/`))
	require.Contains(t, found, `/s/shop-07/weekend`)
	require.Contains(t, string(page("/?search=nowhere", manager).is(200).body), "No shop matches.")
	require.Equal(t, "/s/quay/kitchen", page("/", b.newToken("quay", models.ScopeKitchen)).header.Get("Location"), "a person with one shop never sees the list")
}
