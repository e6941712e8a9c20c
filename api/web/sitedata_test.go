package web_test

import (
	"archive/zip"
	"context"
	"html"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// visitWith is visit with a new key of a site, "" for all.
func (s *shop) visitWith(t *testing.T, at string, scopes ...string) *visitor {
	t.Helper()
	_, key, err := s.store.AddToken(t.Context(), models.Token{Name: "Ada", Scopes: scopes, Site: at}, s.clock())
	require.NoError(t, err)
	return s.visitKey(t, key)
}

func (s *shop) visitKey(t *testing.T, key string) *visitor {
	t.Helper()
	v := &visitor{t: t, s: s, http: &http.Client{Jar: jar(t)}}
	v.csrf = hidden(v.get("/sign-in"), "csrf")
	v.post("/sign-in", url.Values{"key": {key}})
	v.csrf = hidden(v.get("/account"), "csrf")
	return v
}

func (v *visitor) status(path string) int {
	v.t.Helper()
	r, err := v.http.Get(v.s.base + path)
	require.NoError(v.t, err)
	require.NoError(v.t, r.Body.Close())
	return r.StatusCode
}

func TestShopIsDownloadedAndDeletedFromSettings(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	v := s.visitWith(t, "", models.ScopeManage)
	page := v.get("/s/lido/setup")
	require.Contains(t, page, `<a class="act" href="/v1/sites/lido/export" download>Download everything (ZIP)</a>`)
	require.Contains(t, page, `href="/s/lido/delete"`)
	answer, err := v.http.Get(s.base + "/v1/sites/lido/export")
	require.NoError(t, err)
	defer answer.Body.Close()
	archive, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	z, err := zip.NewReader(strings.NewReader(string(archive)), int64(len(archive)))
	require.NoError(t, err)
	_, err = z.Open("setup/current.json")
	require.NoError(t, err)

	page = html.UnescapeString(v.get("/s/lido/delete"))
	for _, want := range []string{"Delete Example Kiosk", "This can’t be undone.", "The activity log", "/v1/sites/lido/export", "To delete it, type <b>lido</b>"} {
		require.Contains(t, page, want)
	}
	status, page := v.post("/s/lido/delete", url.Values{"confirm": {"Lido"}})
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, html.UnescapeString(page), "Nothing deleted. Type the shop’s code: lido")
	require.Equal(t, http.StatusOK, v.status("/s/lido/setup"))

	status, page = v.post("/s/lido/delete", url.Values{"confirm": {" lido "}})
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, page, "Example Kiosk is deleted")
	require.Equal(t, http.StatusNotFound, v.status("/s/lido/setup"))
	log, err := s.store.Audit(context.Background(), nil, models.Page{})
	require.NoError(t, err)
	require.Equal(t, models.AuditDeleteSite, log.Rows[0].Action)
	require.Equal(t, "Ada", log.Rows[0].By)
}

func TestOnlyThoseWhoManageAllShopsDeleteOne(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	manager := s.visitWith(t, site, models.ScopeManage)
	page := manager.get("/s/lido/setup")
	assert.Contains(t, page, "Only somebody who manages all shops can delete one.")
	assert.NotContains(t, page, `href="/s/lido/delete"`)
	for _, v := range []*visitor{manager, s.visitWith(t, "", models.ScopeKitchen)} {
		assert.Equal(t, http.StatusForbidden, v.status("/s/lido/delete"))
		status, _ := v.post("/s/lido/delete", url.Values{"confirm": {site}})
		assert.Equal(t, http.StatusForbidden, status)
	}
	owner := s.visitWith(t, "", models.ScopeManage)
	assert.Equal(t, http.StatusNotFound, owner.status("/s/elsewhere/delete"))
	owner.csrf = "wrong"
	status, _ := owner.post("/s/lido/delete", url.Values{"confirm": {site}})
	assert.Equal(t, http.StatusForbidden, status)
	_, _, err := s.store.Setup(t.Context(), site)
	require.NoError(t, err)
}

func TestPersonIsErasedFromAccess(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	p, _, err := s.store.AddPerson(t.Context(), models.Person{Name: "Ada Brook", SignIn: "ada.brook", Scopes: []string{models.ScopeKitchen}, Site: site, CreatedBy: "manager"}, s.clock())
	require.NoError(t, err)
	require.NoError(t, s.store.AddAudit(t.Context(), models.AuditEntry{At: s.clock(), By: p.Name, ByToken: p.ID, Site: site, Action: models.AuditAck, Subject: "ice"}))
	v := s.visit(t)
	require.Contains(t, html.UnescapeString(v.get("/s/lido/people")), "The activity log keeps the entries, as “former person”.")
	erase := func(typed string) (int, string) {
		status, page := v.post("/s/lido/people/accounts-erase", url.Values{"id": {p.ID}, "erase": {typed}})
		return status, html.UnescapeString(page)
	}
	status, page := erase("ada")
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Contains(t, page, "Nobody removed. Type the sign-in name as shown.")
	require.Contains(t, page, `<details class="sure" open>`, "the form stays open")
	require.Contains(t, page, `name="scope" value="kitchen" checked`, "the form to add a person is as before")

	kitchen := s.visitWith(t, site, models.ScopeKitchen)
	refused, _ := kitchen.post("/s/lido/people/accounts-erase", url.Values{"id": {p.ID}, "erase": {p.SignIn}})
	require.Equal(t, http.StatusForbidden, refused)
	_, err = s.store.Person(t.Context(), p.ID)
	require.NoError(t, err)

	status, page = erase(p.SignIn)
	require.Equal(t, http.StatusOK, status)
	require.NotContains(t, page, "Brook")
	require.NotContains(t, page, "ada.brook")
	require.Contains(t, page, "former person")
	require.Contains(t, page, "acknowledged the warning ice.")
}
