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
	b.eval(`(() => { const i = document.getElementsByName("/brewers/0/min_beverage_g")[0]; i.value = "9"; i.dispatchEvent(new Event("change", { bubbles: true })); return ""; })()`)
	b.until(`document.getElementById("w/brewers/0/min_beverage_g").textContent.includes("More than the largest batch")`)
	assert.Equal(t, "true", b.eval(`document.getElementsByName("/brewers/0/min_beverage_g")[0].getAttribute("aria-invalid")`))
	b.eval(`(() => { const i = document.getElementsByName("/brewers/0/min_beverage_g")[0]; i.value = "2"; i.dispatchEvent(new Event("change", { bubbles: true })); return ""; })()`)
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
	b.says("Enter your numbers below")
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
	b.says("One to match")
	b.quiet()
}

// taps counts what a person does on a phone: each button or link touched, each field filled in, each choice made.
type taps struct {
	*tab
	n int
}

func (b *taps) tap(selector string) {
	b.t.Helper()
	b.n++
	b.click(selector)
}

func (b *taps) fill(name, text string) {
	b.t.Helper()
	b.n++
	b.until(fmt.Sprintf(`(() => { const i = document.getElementsByName(%q)[0]; if (!i) return false; i.value = ""; return true; })()`, name))
	b.typeIn(fmt.Sprintf(`[name=%q]`, name), text)
}

// next saves the step and goes on to another.
func (b *taps) next(step string) {
	b.t.Helper()
	b.tap(`button[name=go]`)
	b.until(fmt.Sprintf(`location.pathname.endsWith(%q)`, step))
}

// A shop begun empty is filled in, planned and published, on a phone and with nothing but the pages.
func TestEmptyShopIsFilledInPlannedAndPublishedOnAPhone(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	_, key, err := s.store.AddToken(context.Background(), models.Token{Name: "owner", Scopes: []string{models.ScopeManage}}, s.clock())
	require.NoError(t, err)
	b := &taps{tab: open(t, ctx, s.base+"/sign-in")}
	require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(390, 844)))
	b.typeIn("#key", key)
	b.click("button.do")
	b.until(`!location.pathname.startsWith("/sign-in")`)

	b.goTo(s.base + "/setup/new")
	b.fill("name", "Café am Wehr")
	b.eval(`(() => { document.getElementById("timezone").value = "Europe/Berlin"; return ""; })()`) // a phone knows its own
	b.fill("currency", "eur")
	b.tap(`input[name=from][value=empty]`)
	b.tap("#newsite button.do")
	b.until(`location.pathname === "/s/cafe-am-wehr/setup"`)
	b.tap(`a.do`)
	b.until(`location.pathname.endsWith("/setup/shop")`)
	b.fill("/site/store_g", "60")
	b.next("/setup/coffees")

	b.tap(`button[value="/coffees"]`)
	b.says("New coffee")
	b.fill("/coffees/0/code", "Terrace")
	b.fill("/coffees/0/cost_per_kg", "24")
	b.setDay("/coffees/0/lots/0/roasted_on", "2026-06-25")
	b.fill("/coffees/0/lots/0/grams", "8")
	b.next("/setup/beverages")

	b.tap(`button[value="/beverages?flash"]`)
	b.says("New beverage")
	b.fill("/beverages/0/name", "House flash")
	b.next("/setup/drinks")

	b.tap(`button[value="/drinks"]`)
	b.fill("/drinks/0/name", "Iced house")
	b.fill("/drinks/0/price", "4.50")
	b.fill("/drinks/0/uses/0/g", "200")
	b.fill("/drinks/0/serving_ice_g", "140")
	b.next("/setup/brewers")

	b.tap(`button[value="/brewers"]`)
	b.fill("/brewers/0/code", "Left")
	b.fill("/brewers/0/min_beverage_g", "1.5")
	b.fill("/brewers/0/max_beverage_g", "6")
	b.next("/setup/ice")

	b.fill("/ice/opening_g", "30")
	b.fill("/ice/bin_g", "34")
	b.tap(`button[value="/ice/makers"]`)
	b.says("New ice machine")
	b.fill("/ice/makers/0/code", "Bar machine")
	b.fill("/ice/makers/0/kg_per_day_rated", "60")
	b.next("/setup/water")

	b.fill("/water/tank_l", "80")
	b.fill("/water/opening_l", "60")
	b.fill("/water/make_l_per_h", "12")
	b.tap(`button[name=go]`)
	b.until(`location.pathname === "/s/cafe-am-wehr/setup"`)
	b.says("Ready to plan.")
	b.tap(`a.do`)
	b.until(`location.pathname.endsWith("/weekend")`)
	b.n++
	b.until(`(() => { const i = document.querySelector('.expected input[data-drink]'); if (!i) return false; i.value = "60"; i.dispatchEvent(new Event("change")); return true; })()`)
	b.says("Saved. Plan again to use it.")
	b.tap("button[name=again]")
	b.until(`document.body.dataset.revision === "1"`)
	b.tap("#publish")
	b.says("Published ")
	t.Logf("%d taps and fields from “New shop” to the first published sheet", b.n)
	b.quiet()
	sheet, err := s.store.Sheet(context.Background(), "cafe-am-wehr", saturday)
	require.NoError(t, err)
	var brews int
	for _, task := range sheet.Tasks {
		if task.Kind == models.TaskBrew {
			brews++
		}
	}
	assert.Positive(t, brews, "the sheet brews")
	plan, _, err := s.store.LatestPlan(context.Background(), "cafe-am-wehr")
	require.NoError(t, err)
	for _, w := range plan.Warnings {
		assert.Equal(t, models.GradeNote, w.Grade, "%s: %s", w.Kind, w.Cause)
	}

	setup, _, err := s.store.Setup(context.Background(), "cafe-am-wehr")
	require.NoError(t, err)
	assert.InDelta(t, 34000, setup.Ice.BinG, 0)
	assert.InDelta(t, 8000, setup.Coffees[0].Lots[0].Grams, 0)
	assert.Equal(t, "2026-06-25", setup.Coffees[0].Lots[0].Code, "a bag without a name is called by its roast date")
	assert.Equal(t, "house-flash", setup.Beverages[0].Code)
	assert.Equal(t, "Terrace", setup.Beverages[0].Coffee, "the only coffee is chosen")
	assert.Equal(t, []models.Use{{Beverage: "house-flash", G: 200}}, setup.Drinks[0].Uses, "the only beverage is chosen")
	assert.Equal(t, []string{"house-flash"}, setup.Brewers[0].Beverages)
}

// setDay fills in a date. Browsers write dates in their own order, so keys would depend on theirs.
func (b *taps) setDay(name, day string) {
	b.t.Helper()
	b.n++
	b.until(fmt.Sprintf(`(() => { const i = document.getElementsByName(%q)[0]; if (!i) return false; i.value = %q; i.dispatchEvent(new Event("change", { bubbles: true })); return true; })()`, name, day))
}
