package web

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/api/web/texts"
	"hotday/models"
)

var (
	sayCall    = regexp.MustCompile(`\bsay(?:HTML)? "([^"]+)"( *[|})]|[^})]*)`)
	sayAllCall = regexp.MustCompile(`\bsayAll "([^"]+)"`)
)

// Every key used exists and every key that exists is used. A key may be composed of a literal that ends in a dot and a suffix:
// "kitchen.short." + kind.
func TestTextKeysAreUsedAndExist(t *testing.T) {
	t.Parallel()
	english := texts.For("en")
	keys := english.Keys()
	var used, prefixes []string
	files, err := filepath.Glob("templates/*.html")
	require.NoError(t, err)
	for _, name := range files {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		for _, m := range sayCall.FindAllStringSubmatch(string(text), -1) {
			used = append(used, m[1])
			assert.Contains(t, keys, m[1], "used in %s", name)
			for _, arg := range english.Arguments(m[1]) {
				assert.Contains(t, m[2], `"`+arg+`"`, "%s uses %s without its argument {%s}", name, m[1], arg)
			}
		}
		for _, m := range sayAllCall.FindAllStringSubmatch(string(text), -1) {
			prefixes = append(prefixes, m[1])
		}
	}
	for _, s := range literals(t) {
		switch {
		case slices.Contains(keys, s):
			used = append(used, s)
		case strings.HasSuffix(s, "."):
			prefixes = append(prefixes, s)
		}
	}
	for _, key := range keys {
		isUsed := slices.Contains(used, key) || slices.ContainsFunc(prefixes, func(b string) bool { return strings.Contains(b, ".") && strings.HasPrefix(key, b) && len(b) > 2 })
		assert.True(t, isUsed, "%q is unused: delete it", key)
	}
	for _, s := range sayKeys(t) {
		assert.Contains(t, keys, s, "used in Go code")
	}
}

// Other languages have no keys or arguments that English lacks.
func TestLanguagesHaveNoExtraKeysOrArguments(t *testing.T) {
	t.Parallel()
	english := texts.For("en")
	for _, c := range texts.Languages()[1:] {
		for _, key := range c.Keys() {
			assert.Contains(t, english.Keys(), key, c.Language())
			for _, arg := range c.Arguments(key) {
				assert.Contains(t, english.Arguments(key), arg, "%s: %s", c.Language(), key)
			}
		}
	}
}

func sources(t *testing.T, each func(ast.Node) bool) {
	t.Helper()
	var files []string
	for _, pattern := range []string{"*.go", "picture/*.go"} {
		found, err := filepath.Glob(pattern)
		require.NoError(t, err)
		files = append(files, found...)
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		require.NoError(t, err)
		ast.Inspect(f, each)
	}
}

// literals returns the string literals in the pages' code.
func literals(t *testing.T) (out []string) {
	sources(t, func(n ast.Node) bool {
		if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
			s, _ := strconv.Unquote(lit.Value)
			out = append(out, s)
		}
		return true
	})
	return out
}

// sayKeys returns the literal keys passed to a method Say.
func sayKeys(t *testing.T) (out []string) {
	sources(t, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok || len(call.Args) == 0 {
			return true
		}
		fn, isSay := call.Fun.(*ast.SelectorExpr)
		lit, isLiteral := call.Args[0].(*ast.BasicLit)
		if isSay && isLiteral && fn.Sel.Name == "Say" && lit.Kind == token.STRING {
			s, _ := strconv.Unquote(lit.Value)
			out = append(out, s)
		}
		return true
	})
	return out
}

func TestNavigationListsServedAndAllowedPages(t *testing.T) {
	t.Parallel()
	p := &pages{served: map[string]bool{"weekend": true, "kitchen": true, "count": true}}
	names := func(scopes ...string) (out []string) {
		for _, l := range p.navLinks(models.Token{Scopes: scopes, Site: "lido"}, "lido", voiceOf(models.Site{})) {
			out = append(out, l.Name)
		}
		return out
	}
	assert.Equal(t, []string{"Weekend", "Kitchen", "Count"}, names(models.ScopeManage))
	assert.Equal(t, []string{"Kitchen", "Count"}, names(models.ScopeKitchen))
	assert.Equal(t, []string{"Kitchen"}, names(models.ScopeRead))
}

func TestKitchenUsesTheSitesUnits(t *testing.T) {
	t.Parallel()
	v := voiceOf(models.Site{Timezone: "America/Chicago", Units: &models.Units{Temperature: "f", Mass: "oz_lb", Volume: "fl_oz_gal", Clock: "12h", Dates: "month_day"}})
	cool := 35.0
	lines := beverageLines(models.Task{Kind: models.TaskChill, Batch: &models.BatchTask{CoolToBeforeIceC: &cool, IceG: 1170, FinalTempC: 7, Ready: time.Date(2026, 7, 11, 17, 0, 0, 0, time.UTC)}}, models.Setup{}, v)
	require.Len(t, lines, 3)
	assert.Equal(t, "Cool to <b>95\u202f°F</b>", string(lines[0]))
	assert.Equal(t, "Stir in <b>2\u202flb</b> <b>9.3\u202foz</b> ice, slowly", string(lines[1]))
	assert.Contains(t, string(lines[2]), "Reach <b>45\u202f°F</b> by <b>")
	assert.Equal(t, []string{"−1\u202flb", "−4\u202foz", "+4\u202foz", "+1\u202flb"}, func() (out []string) {
		for _, s := range massSteps(v) {
			out = append(out, s.Say)
		}
		return out
	}())
}
