package web_test

import (
	"html"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestManagersGiveAccessToGroupsOfShops(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	org := s.visitWith(t, "", models.ScopeManage)
	require.NotContains(t, org.get("/s/lido/people"), `value="groups"`, "nothing to choose yet")
	status, page := org.post("/s/lido/people/groups-save", url.Values{"name": {"North"}, "code": {"no rth"}, "sites": {"lido"}})
	require.Equal(t, 422, status)
	require.Contains(t, html.UnescapeString(page), "The code can have letters, digits, - and _.")
	require.Contains(t, page, `value="no rth"`, "what was typed stays")
	_, page = org.post("/s/lido/people/groups-save", url.Values{"name": {"North"}, "code": {"north"}, "sites": {"lido, nowhere"}})
	require.Contains(t, html.UnescapeString(page), "One of these shops doesn’t exist")
	org.post("/s/lido/people/groups-save", url.Values{"name": {"North"}, "code": {"north"}, "sites": {"lido\n"}})
	page = html.UnescapeString(org.get("/s/lido/people"))
	require.Contains(t, page, "1 shop")
	require.Contains(t, page, `value="groups"`)

	add := url.Values{"name": {"Ada"}, "sign_in": {"ada"}, "scope": {models.ScopeManage}, "where": {"groups"}}
	_, page = org.post("/s/lido/people/accounts-add", add)
	require.Contains(t, html.UnescapeString(page), "Choose at least one group.", "else it would be all shops")
	add["group"] = []string{"north"}
	org.post("/s/lido/people/accounts-add", add)
	people, err := s.store.People(t.Context())
	require.NoError(t, err)
	require.Len(t, people, 1)
	require.Equal(t, []string{"north"}, people[0].Groups)
	require.Empty(t, people[0].Site)
	page = html.UnescapeString(org.get("/s/lido/people"))
	require.Contains(t, page, "Can manage")
	require.Contains(t, page, "North</p>")
	require.Equal(t, 1, strings.Count(page, `name="group" value="north" checked`))
	_, page = org.post("/s/lido/people/groups-end", url.Values{"id": {"north"}})
	require.Contains(t, html.UnescapeString(page), "Somebody’s access, or an access key, is for this group.")

	_, key, err := s.store.AddToken(t.Context(), models.Token{Name: "Region", Scopes: []string{models.ScopeManage}, Groups: []string{"north"}}, s.clock())
	require.NoError(t, err)
	region := s.visitKey(t, key)
	page = region.get("/s/lido/people")
	require.Contains(t, page, "Ada")
	require.NotContains(t, page, `id="groups"`, "only who manages all shops changes groups")
	require.NotContains(t, page, `value="all"`)
	require.Equal(t, 404, region.status("/s/pier/people"))
	require.Equal(t, 403, region.status("/s/lido/delete"))
	require.Equal(t, 403, region.status("/setup/new"))
}
