package web

import (
	"io/fs"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/api/web/texts"
)

func fetchStatic(t *testing.T, address, etag string) *httptest.ResponseRecorder {
	t.Helper()
	r := gin.New()
	r.GET("/static/*file", serveStatic)
	req := httptest.NewRequest(http.MethodGet, address, nil)
	if etag != "" {
		req.Header.Set("If-None-Match", etag)
	}
	w := httptest.NewRecorder()
	r.ServeHTTP(w, req)
	return w
}

func TestStaticFilesAreKeptForEverAtTheAddressOfTheirVersion(t *testing.T) {
	t.Parallel()
	for name, file := range statics {
		w := fetchStatic(t, asset(name), "")
		assert.Equal(t, http.StatusOK, w.Code, name)
		assert.Contains(t, w.Header().Get("Cache-Control"), "immutable", name)
		assert.Equal(t, file.body, w.Body.Bytes(), name)
		assert.Equal(t, http.StatusNotModified, fetchStatic(t, asset(name), w.Header().Get("ETag")).Code, name)
	}
	for _, name := range []string{"absent.js", "tsconfig.json", "ground.css", "", "../assets.go"} {
		assert.Equal(t, http.StatusNotFound, fetchStatic(t, asset(name), "").Code, name)
	}
}

// A page from before an upgrade, or an address without a version, gets the current file from its own address: modules that it imports
// then come from the same version, and nothing is kept under an address that it does not belong to.
func TestOtherVersionsLeadToTheCurrentFile(t *testing.T) {
	t.Parallel()
	for _, address := range []string{"/static/0123456789ab/kitchen.js", "/static/kitchen.js"} {
		w := fetchStatic(t, address, statics["kitchen.js"].etag)
		assert.Equal(t, http.StatusFound, w.Code, address)
		assert.Equal(t, asset("kitchen.js"), w.Header().Get("Location"), address)
		assert.Equal(t, "no-store", w.Header().Get("Cache-Control"), address)
	}
}

func TestTheVersionChangesWithAnyFile(t *testing.T) {
	t.Parallel()
	before := versionOf(statics)
	for name := range statics {
		changed := maps.Clone(statics)
		changed[name] = staticFile{body: append(slices.Clone(changed[name].body), '\n')}
		assert.NotEqual(t, before, versionOf(changed), name)
	}
	renamed := maps.Clone(statics)
	renamed["other.js"] = renamed["page.js"]
	delete(renamed, "page.js")
	assert.NotEqual(t, before, versionOf(renamed))
}

func TestImportsAreEveryModuleThatAScriptNeeds(t *testing.T) {
	t.Parallel()
	assert.ElementsMatch(t, []string{"amount.js", "clock.js", "counts.js", "page.js", "outbox.js", "quantity.js"}, imports("count.js"))
	assert.ElementsMatch(t, []string{"page.js", "live.js", "quantity.js"}, imports("review.js"))
	assert.Subset(t, imports("kitchen.js"), []string{"connection.js", "live.js"}, "through another")
	assert.Empty(t, imports("quantity.js"))
	anyImport := regexp.MustCompile(`(?m)^(?:import|export) (?:[^;"]* from )?"([^"]+)";`)
	for name := range statics {
		if !strings.HasSuffix(name, ".js") {
			continue
		}
		needed := imports(name)
		for _, m := range anyImport.FindAllSubmatch(statics[name].body, -1) {
			assert.Contains(t, needed, strings.TrimPrefix(string(m[1]), "./"), "%s imports it", name)
		}
		for _, module := range needed {
			assert.Contains(t, statics, module, "%s imports it", name)
		}
	}
}

func TestTheStyleSheetHoldsEachPartOnce(t *testing.T) {
	t.Parallel()
	sheet, parts := string(styleSheet()), 0
	require.NoError(t, fs.WalkDir(staticFiles, "static/styles", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		parts++
		assert.Equal(t, 1, strings.Count(sheet, string(read(name))), name)
		return nil
	}))
	assert.Greater(t, parts, 10)
	assert.True(t, strings.HasPrefix(sheet, string(read("static/styles/font.css"))), "the general comes first")
}

// Every text that a script says with a literal key is there for the page that runs it.
func TestScriptsSayTextsThatThereAre(t *testing.T) {
	t.Parallel()
	prefixes := map[string]string{"count.js": "count.script.", "kitchen.js": "kitchen.script.", "recipes.js": "recipes.script.", "review.js": "review.script.",
		"sales.js": "setup.sales.script.", "sheet.js": "sheet.script.", "screen.js": "screen.script.", "weekend.js": "weekend.script."}
	keys := texts.For("en").Keys()
	saying := regexp.MustCompile(`\bsay\("(\w+)"|\bsay\([^()"]*\? "(\w+)" : "(\w+)"`)
	for script, prefix := range prefixes {
		for _, file := range append(imports(script), script) {
			for _, m := range saying.FindAllSubmatch(statics[file].body, -1) {
				for _, key := range m[1:] {
					if len(key) > 0 {
						assert.True(t, slices.Contains(keys, prefix+string(key)) || slices.Contains(keys, "frame.script."+string(key)), "%s says %s on the page of %s", file, key, script)
					}
				}
			}
		}
	}
}

// typescript finds the TypeScript compiler, which checks the scripts' types, or skips the test loudly.
func typescript(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("tsc")
	if err == nil {
		return path
	}
	const missing = "NOT TESTED: the types of the pages' scripts; run deploy/test-tools.sh, or npm install -g typescript"
	if os.Getenv("HOTDAY_REQUIRE_TOOLS") == "1" {
		t.Fatal(missing)
	}
	t.Skip(missing)
	return ""
}

func TestScriptsUseTheirTypesRightly(t *testing.T) {
	t.Parallel()
	tsc := typescript(t)
	projects, err := filepath.Glob("static/tsconfig*.json")
	require.NoError(t, err)
	require.Len(t, projects, 2, "of the pages and of the service worker")
	for _, project := range projects {
		out, err := exec.CommandContext(t.Context(), tsc, "--project", project, "--pretty", "false").CombinedOutput()
		assert.NoError(t, err, "%s\n%s", project, out)
	}
	for name, file := range statics {
		assert.NotRegexp(t, `@ts-(ignore|expect-error|nocheck)`, string(file.body), name)
	}
}
