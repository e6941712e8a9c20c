package web_test

import (
	"context"
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// From nothing to the first plan: a shop is created from the example, corrected and planned.
func TestNewShopOnAPhone(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	_, key, err := s.store.AddToken(context.Background(), models.Token{Name: "owner", Scopes: []string{models.ScopeManage}}, s.clock())
	require.NoError(t, err)
	b := open(t, ctx, s.base+"/sign-in")
	require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(360, 740)))
	b.typeIn("#key", key)
	b.click("button.do")
	b.until(`!location.pathname.startsWith("/sign-in")`)
	b.goTo(s.base + "/setup/new")
	assert.Equal(t, "0", b.eval(`document.querySelectorAll(".wrong").length`), "no errors before any input")
	b.typeIn("#name", "Café am Wehr")
	assert.Equal(t, "cafe-am-wehr", b.eval(`document.getElementById("code").value`))
	assert.NotEmpty(t, b.eval(`document.getElementById("timezone").value`), "from the browser")
	b.eval(`(() => { document.getElementById("timezone").value = "Europe/Berlin"; return ""; })()`)
	b.typeIn("#currency", "eur")
	b.click("#newsite button.do")
	b.until(`location.pathname === "/s/cafe-am-wehr/setup"`)
	b.says("Ready to plan.")
	b.quiet()

	// Errors appear at their field on input.
	b.click(`a[href="/s/cafe-am-wehr/setup/brewers"]`)
	b.until(`location.pathname.endsWith("/brewers")`)
	b.eval(`(() => { const i = document.getElementsByName("/brewers/0/min_beverage_g")[0]; i.value = "9000"; i.dispatchEvent(new Event("change", { bubbles: true })); return ""; })()`)
	b.until(`document.getElementById("w/brewers/0/min_beverage_g").textContent.includes("more than the largest batch")`)
	assert.Equal(t, "true", b.eval(`document.getElementsByName("/brewers/0/min_beverage_g")[0].getAttribute("aria-invalid")`))
	b.eval(`(() => { const i = document.getElementsByName("/brewers/0/min_beverage_g")[0]; i.value = "2000"; i.dispatchEvent(new Event("change", { bubbles: true })); return ""; })()`)
	b.until(`document.getElementById("w/brewers/0/min_beverage_g").textContent === ""`)
	b.click(`button[name=go]`)
	b.until(`location.pathname.endsWith("/setup/ice")`)
	setup, _, err := s.store.Setup(context.Background(), "cafe-am-wehr")
	require.NoError(t, err)
	assert.InDelta(t, 2000, setup.Brewers[0].MinBeverageG, 0)
	b.quiet()

	for _, path := range []string{"", "/shop", "/hours", "/coffees", "/beverages", "/drinks", "/brewers", "/ice", "/water", "/costs"} {
		for _, width := range []int64{320, 1280} {
			require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(width, 740)))
			b.goTo(s.base + "/s/cafe-am-wehr/setup" + path)
			b.eval(`(() => { for (const d of document.querySelectorAll("details")) d.open = true; return ""; })()`)
			assert.Equal(t, "true", b.eval(`document.documentElement.scrollWidth <= innerWidth`), "%s at %d px scrolls sideways", path, width)
		}
	}
	b.goTo(s.base + "/s/cafe-am-wehr/weekend")
	b.says("Enter your own numbers below")
	b.eval(`(() => { for (const i of document.querySelectorAll('.asked input[data-part="midday"]')) { i.value = "12"; i.dispatchEvent(new Event("change")); } return ""; })()`)
	assert.Equal(t, "true", b.eval(`document.documentElement.scrollWidth <= innerWidth`))
	b.click("button[name=again]")
	b.until(`document.body.dataset.revision === "1"`)
	b.quiet()
}

func TestSalesFileIsPreviewedAndImported(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	file := func(rows string) {
		b.eval(fmt.Sprintf(`(() => { const d = new DataTransfer(); d.items.add(new File([%q], "sales.csv", { type: "text/csv" }));
			const f = document.getElementById("salesfile"); f.files = d.files; f.dispatchEvent(new Event("change")); return ""; })()`, rows))
		b.click("#sales button.lesser")
	}
	b.goTo(s.base + "/s/lido/till-items")
	file("item,start,end,count\nflat one,2026-07-04 10:00,2026-07-04 10:15,3\nflat one,2026-07-04 10:15,2026-07-04 10:30,many\n")
	b.says("Rows to correct: 1.")
	assert.Equal(t, "true", b.eval(`document.getElementById("bring").hidden`))
	file("item,start,end,count\nflat one,2026-07-04 10:00,2026-07-04 10:15,3\nflat one,2026-07-04 10:15,2026-07-04 10:30,4\n")
	b.says("Rows: 2. Items: 1. From 2026-07-04 to 2026-07-04.")
	b.click("#bring")
	b.says("2 new, 0 replaced, 0 unchanged")
	b.says("One item to match")
	b.quiet()
}
