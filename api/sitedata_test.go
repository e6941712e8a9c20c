package api_test

import (
	"archive/zip"
	"bytes"
	"io"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSiteIsExportedAndDeletedByThoseWhoMay(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	here, till := b.newToken("quay", "manage"), b.newToken("quay", "sales")

	b.do(call{method: "GET", path: "/v1/sites/quay/export", token: till}).is(http.StatusForbidden)
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, b.base+"/v1/sites/quay/export", nil)
	require.NoError(t, err)
	req.Header.Set("Authorization", "Bearer "+here)
	res, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer res.Body.Close()
	doc, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Contains(t, res.Header.Get("Content-Disposition"), "hotday-quay-")
	z, err := zip.NewReader(bytes.NewReader(doc), int64(len(doc)))
	require.NoError(t, err)
	_, err = z.Open("setup/current.json")
	require.NoError(t, err)

	b.do(call{method: "DELETE", path: "/v1/sites/quay?confirm=quay", token: here}).is(http.StatusForbidden)
	b.do(call{method: "DELETE", path: "/v1/sites/quay?confirm=pier"}).is(http.StatusUnprocessableEntity)
	b.do(call{method: "DELETE", path: "/v1/sites/quay?confirm=quay"}).is(http.StatusNoContent)
	b.get("/v1/sites/quay/setup").is(http.StatusNotFound)
	b.get("/v1/sites/pier/setup").is(http.StatusOK)
	b.do(call{method: "GET", path: "/v1/sites/pier/setup", token: here}).is(http.StatusUnauthorized)
	log := string(b.get("/v1/audit").is(http.StatusOK).body)
	require.Contains(t, log, `"site_deleted"`)
	require.Contains(t, log, `"site_exported"`)
}

func TestPersonIsErasedByTheirSignInName(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	id, _ := b.invite(map[string]any{"name": "Ada Quill", "sign_in": "ada.quill", "scopes": []string{"manage"}})
	b.do(call{method: "DELETE", path: "/v1/people/" + id + "?erase=ben"}).is(http.StatusUnprocessableEntity)
	b.do(call{method: "DELETE", path: "/v1/people/" + id + "?erase=ada.quill"}).is(http.StatusNoContent)
	log := string(b.get("/v1/audit").is(http.StatusOK).body)
	require.NotContains(t, log, "Quill")
	require.Contains(t, log, `"person_erased"`)
	require.Contains(t, log, "former person")
}
