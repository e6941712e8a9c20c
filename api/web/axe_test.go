package web_test

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// axe returns the script of axe-core, which is not part of this repository, or skips the test.
func axe(t *testing.T) string {
	t.Helper()
	for _, path := range []string{os.Getenv("HOTDAY_AXE"), "/usr/lib/node_modules/axe-core/axe.min.js", "/usr/local/lib/node_modules/axe-core/axe.min.js"} {
		if path == "" {
			continue
		}
		if b, err := os.ReadFile(path); err == nil {
			return string(b)
		}
	}
	notTested(t, "NOT TESTED: the pages with axe-core; npm install -g axe-core, or set HOTDAY_AXE to its axe.min.js")
	return ""
}

// violation is an accessibility rule that a page breaks.
type violation struct {
	ID    string   `json:"id"`
	Help  string   `json:"help"`
	Nodes []string `json:"nodes"`
}

func (b *tab) violations(rules string) []violation {
	b.t.Helper()
	_, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](rules+"; true"))
	require.NoError(b.t, err)
	const run = `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then((r) =>
		JSON.stringify(r.violations.map((v) => ({id: v.id, help: v.help, nodes: v.nodes.map((n) => n.html.slice(0, 200))}))))`
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](run, chromedp.EvalAwaitPromise))
	require.NoError(b.t, err)
	var out []violation
	require.NoError(b.t, json.Unmarshal([]byte(text), &out))
	return out
}

// night switches the page to the dark theme by applying its rules unconditionally.
const night = `(() => { for (const s of document.styleSheets) for (const r of [...s.cssRules])
	if (r.conditionText && r.conditionText.includes("dark")) s.insertRule(r.cssRules[0].cssText, s.cssRules.length); return ""; })()`

func TestPagesPassAxe(t *testing.T) {
	t.Parallel()
	rules := axe(t)
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	check := func(path string) {
		for _, theme := range []string{"light", "dark"} {
			for _, size := range [][2]int64{{390, 844}, {1920, 1080}} {
				require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(size[0], size[1])))
				b.goTo(s.base + path)
				b.until(`true`)
				if theme == "dark" {
					b.eval(night)
				}
				b.eval(`(() => { for (const d of document.querySelectorAll("details")) d.open = true; for (const n of document.querySelectorAll("#news")) { n.hidden = false; n.firstElementChild.textContent = "New plan: 2."; } return ""; })()`)
				var found []string
				for _, v := range b.violations(rules) {
					found = append(found, fmt.Sprintf("%s (%s): %s", v.ID, v.Help, strings.Join(v.Nodes, " | ")))
				}
				assert.Empty(t, found, "%s, %s, %d px", path, theme, size[0])
			}
		}
	}
	for _, path := range []string{"/sign-in", "/screen", "/s/lido/offline"} {
		check(path)
	}
	_, code, err := s.store.AddPerson(ctx, models.Person{Name: "Ada", SignIn: "ada", Scopes: []string{models.ScopeKitchen}, Site: site}, s.clock())
	require.NoError(t, err)
	check("/welcome?code=" + code)
	s.everyPage(t, b, check)
	check("/s/nowhere/weekend") // says that there is no such site
}
