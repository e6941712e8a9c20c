package web_test

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// tooSmall lists the controls of a page that are less than a number of px wide or high. A checkbox or radio button is as large as its
// label. A link in the midst of a sentence is as high as its line (WCAG 2.2, 2.5.8, "inline"), and a mark of a drawing leads to a row that
// is in the page as well ("equivalent").
const tooSmall = `((least) => {
	for (const d of document.querySelectorAll("details")) d.open = true;
	const small = [];
	for (const e of document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")) {
		if (!e.checkVisibility({ visibilityProperty: true }) || e.closest("svg") || e.matches(".unseen, .skip, [tabindex='-1']")) continue;
		const sentence = e.matches("a") && getComputedStyle(e).display === "inline" && [...e.parentElement.childNodes].some((n) => n.nodeType === 3 && /\p{L}/u.test(n.textContent));
		if (sentence) continue;
		const boxes = [e, ...(e.matches("[type=checkbox], [type=radio]") ? e.labels : [])].map((x) => x.getBoundingClientRect());
		const width = Math.max(...boxes.map((b) => b.width)), height = Math.max(...boxes.map((b) => b.height));
		if (width < least - 0.5 || height < least - 0.5) small.push(e.outerHTML.slice(0, 110) + " " + Math.round(width) + "×" + Math.round(height));
	}
	return JSON.stringify(small);
})`

// A finger finds every control of every page on a phone, a wet hand those of the wall.
func TestControlsAreLargeEnoughToTouch(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	check := func(path string, width, height int64, least int) {
		require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(width, height)))
		b.goTo(s.base + path)
		b.until(`document.fonts.status === "loaded"`)
		var small []string
		require.NoError(t, json.Unmarshal([]byte(b.eval(fmt.Sprintf("%s(%d)", tooSmall, least))), &small))
		for _, control := range small {
			assert.Fail(t, "a control is too small", "%s at %d×%d, %d px: %s", path, width, height, least, control)
		}
	}
	for _, path := range []string{"/sign-in", "/s/lido/offline"} {
		check(path, 390, 844, 44)
	}
	s.everyPage(t, b, func(path string) { check(path, 390, 844, 44) })
	for _, path := range []string{"/s/lido/kitchen", "/s/lido/count"} {
		check(path, 1920, 1080, 64)
	}
}

// everyPage signs in, fills the shop so that each page has something to show, and calls visit for each page of a person.
func (s *shop) everyPage(t *testing.T, b *tab, visit func(path string)) {
	t.Helper()
	ctx := t.Context()
	w := models.OpenWarning{Key: "sales_silent", Warning: models.Warning{Kind: models.WarnSalesSilent, Grade: models.GradeActNow, At: s.clock(), Cause: "No sales counts since 06:00.",
		Fixes: []models.Fix{{Action: "Look whether the till still sends", Change: []byte("{}")}}}}
	_, err := s.store.SyncWarnings(ctx, site, []string{models.WarnSalesSilent}, []models.OpenWarning{w}, s.clock())
	require.NoError(t, err)
	b.goTo(s.base + "/sign-in")
	b.signIn(s)
	b.click("button[name=again]")
	b.until(`document.body.dataset.revision === "1"`)
	b.click("#publish")
	b.says("Published ")
	for _, step := range []string{"", "/shop", "/hours", "/people", "/safety", "/coffees", "/beverages", "/drinks", "/brewers", "/ice", "/water", "/costs"} {
		visit("/s/lido/setup" + step)
	}
	visit("/s/lido/till-items")
	visit("/s/lido/weekend")
	require.NoError(t, s.store.PutEvents(ctx, site, []models.Event{{From: s.clock(), To: s.clock().Add(time.Hour), Name: "fair", Factor: 1}}))
	visit("/s/lido/known")
	for _, kind := range []string{"event", "holiday", "outage", "attention", "off_sale"} {
		visit("/s/lido/known/" + kind)
	}
	sheet, err := s.store.Sheet(ctx, site, saturday)
	require.NoError(t, err)
	due := sheet.Tasks[0].At.Add(time.Minute)
	s.now.Store(&due)
	visit("/s/lido/kitchen")
	s.addPastDays(t)
	visit("/s/lido/review?day=2026-07-10&span=7")
	visit("/s/lido/count")
	visit("/s/lido/recipes")
	visit("/v1/sites/lido/prep-sheets/2026-07-11")
	brook := s.person(t, "brook", models.ScopeManage)
	s.device(t, brook, "1")
	require.NoError(t, s.store.QueuePush(ctx, models.MailCause{Site: site, Kind: models.MailSheet, About: string(saturday), At: s.clock(), Until: s.clock().Add(time.Hour)}))
	visit("/s/lido/people")
	visit("/account")
	_, owner, err := s.store.AddToken(ctx, models.Token{Name: "owner", Scopes: []string{models.ScopeManage}}, s.clock())
	require.NoError(t, err)
	b.goTo(s.base + "/sign-in")
	b.typeIn("#key", owner)
	b.goes("button.do")
	visit("/s/lido/delete")
	s.putShops(t)
	visit("/shops")
	visit("/shops/orders?from=2026-07-12")
	visit("/shops/recall?lot=L7")
	b.goTo(s.base + "/sign-in")
	b.typeIn("#name", "brook")
	b.typeIn("#key", goodPassword)
	b.goes("button.do")
	visit("/account")
}
