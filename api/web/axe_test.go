package web_test

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

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
	// An open warning and a due task, so that the pages have content.
	w := models.OpenWarning{Key: "sales_silent", Warning: models.Warning{Kind: models.WarnSalesSilent, Grade: models.GradeActNow, At: s.clock(), Cause: "No sales counts since 06:00.",
		Fixes: []models.Fix{{Action: "Look whether the till still sends", Change: []byte("{}")}}}}
	_, err := s.store.SyncWarnings(ctx, site, []string{models.WarnSalesSilent}, []models.OpenWarning{w}, s.clock())
	require.NoError(t, err)

	b := open(t, ctx, s.base+"/sign-in")
	check := func(path, name string) {
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
				assert.Empty(t, found, "%s, %s, %d px", name, theme, size[0])
			}
		}
	}
	check("/sign-in", "sign-in")
	check("/screen", "pairing")
	_, code, err := s.store.AddPerson(ctx, models.Person{Name: "Ada", SignIn: "ada", Scopes: []string{models.ScopeKitchen}, Site: site}, s.clock())
	require.NoError(t, err)
	check("/welcome?code="+code, "welcome")
	b.goTo(s.base + "/sign-in")
	b.signIn(s)
	b.click("button[name=again]")
	b.until(`document.body.dataset.revision === "1"`)
	b.click("#publish")
	b.says("Published ")
	check("/s/lido/setup", "Settings")
	for _, step := range []string{"shop", "hours", "beverages", "ice"} {
		check("/s/lido/setup/"+step, "Settings, "+step)
	}
	check("/s/lido/till-items", "till items")
	check("/s/lido/weekend", "Weekend")
	require.NoError(t, s.store.PutEvents(ctx, site, []models.Event{{From: s.clock(), To: s.clock().Add(time.Hour), Name: "fair", Factor: 1}}))
	check("/s/lido/known", "Events")
	for _, kind := range []string{"event", "holiday", "outage", "attention", "off_sale"} {
		check("/s/lido/known/"+kind, "Events, "+kind)
	}
	sheet, err := s.store.Sheet(ctx, site, saturday)
	require.NoError(t, err)
	due := sheet.Tasks[0].At.Add(time.Minute)
	s.now.Store(&due)
	check("/s/lido/kitchen", "Kitchen")
	s.addPastDays(t)
	check("/s/lido/review?day=2026-07-10&span=7", "Review")
	check("/s/lido/count", "Count")
	check("/s/lido/recipes", "Recipes")
	check("/v1/sites/lido/prep-sheets/2026-07-11", "prep sheet")
	check("/s/lido/people", "Access")
	check("/account", "account")
}
