package api

import (
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"

	"hotday/api/web"
	"hotday/openapi"

	"hotday/planner/calc"
)

func readContract(t *testing.T) *openapi3.T {
	t.Helper()
	doc, err := openapi3.NewLoader().LoadFromData(openapi.YAML)
	require.NoError(t, err)
	return doc
}

var ginParam = regexp.MustCompile(`:([a-z]+)`)

func TestContractMatchesTheRoutesExceptPages(t *testing.T) {
	t.Parallel()
	pages := gin.New()
	web.Register(pages, web.Deps{})
	ofPages := map[string]bool{}
	for _, r := range pages.Routes() {
		ofPages[r.Method+" "+r.Path] = true
	}
	var routed, written []string
	for _, r := range New(Config{}).engine.Routes() {
		if key := r.Method + " " + r.Path; !ofPages[key] && r.Method != http.MethodHead { // HEAD is implied by GET
			routed = append(routed, ginParam.ReplaceAllString(key, "{$1}"))
		}
	}
	for path, item := range readContract(t).Paths.Map() {
		for method := range item.Operations() {
			written = append(written, method+" "+path)
		}
	}
	slices.Sort(routed)
	slices.Sort(written)
	require.Equal(t, routed, written)
}

func TestContractMatchesScopesAndBodiesOfTheRoutes(t *testing.T) {
	t.Parallel()
	doc := readContract(t)
	for _, r := range New(Config{}).routes() {
		path := ginParam.ReplaceAllString(r.path, "{$1}")
		op := doc.Paths.Value(path).GetOperation(r.method)
		var scopes []string
		for _, requirement := range *op.Security {
			for scheme, names := range requirement {
				if scheme == "bearer" {
					scopes = append(scopes, names...)
				}
			}
		}
		require.ElementsMatch(t, r.scopes, scopes, "%s %s", r.method, path)
		require.Equal(t, r.maxBody > 0, op.RequestBody != nil, "%s %s: has a body", r.method, path)
		require.Equal(t, strings.Contains(r.path, "/sites/:site"), r.site == pathSite, "%s %s: checks the site in the path", r.method, path)
	}
}

func TestContractListsTheCalculations(t *testing.T) {
	t.Parallel()
	var kinds []string
	for _, k := range readContract(t).Components.Parameters["kind"].Value.Schema.Value.Enum {
		kinds = append(kinds, k.(string))
	}
	require.Equal(t, calc.Kinds(), kinds)
}
