package web_test

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func (b *tab) set(selector, value string) {
	b.t.Helper()
	b.eval(fmt.Sprintf(`(() => { const i = document.querySelector(%q); i.value = %q; i.dispatchEvent(new Event("input", {bubbles: true})); return ""; })()`, selector, value))
}

func TestDiallingInARecipe(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	b.phone(390, 844)
	b.goTo(s.base + "/s/lido/recipes")

	// The results for the stored recipe, from the planner's own calculation.
	b.until(`document.getElementById("o-tds").textContent !== "–"`)
	assert.Equal(t, "18.0%", b.eval(`document.getElementById("o-yield").textContent`))
	b.says("min in the bath. Ice alone ends at")
	b.says("No changes.")
	b.says("Hot brew")

	// Moving a slider updates the results and the number.
	before := b.eval(`document.getElementById("o-tds").textContent`)
	b.set("#r-ratio", "16")
	b.until(fmt.Sprintf(`document.getElementById("o-tds").textContent !== %q`, before))
	assert.Equal(t, "16", b.eval(`document.getElementById("n-ratio").value`))
	b.says("Brew ratio, ice included: 14.6 g water per g → 16 g water per g")

	// The ratio for the target strength is offered, and applied with one touch.
	b.says("For 1.45% strength use 1:")
	b.tap("#set-ratio")
	b.says("Strength on target.")

	// An impossible recipe is explained, with the nearest possible one.
	b.set("#n-ratio", "2")
	b.says("the grounds keep all the water: use 1:10.0 or more.")
	b.set("#n-ratio", "15,2")
	b.until(`document.getElementById("impossible").hidden`)
	b.eval(`(() => { document.getElementById("bath").click(); return ""; })()`)
	b.says("it ends at")
	b.says("of the water ice.")
	b.eval(`(() => { document.getElementById("bath").click(); return ""; })()`)
	b.until(`document.getElementById("impossible").hidden`)
	b.set("#n-ratio", "x")
	b.says("“x” isn’t a number.")
	b.set("#n-ratio", "15.2")

	// Saved to the set-up, and in the history with the author.
	b.tap("#save")
	b.says("Saved. The next plan uses it.")
	setup, _, err := s.store.Setup(ctx, site)
	require.NoError(t, err)
	assert.InDelta(t, 15.2, setup.Beverages[0].Ratio, 1e-9)
	b.says("1:14.6 → 1:15.2")
	b.says("manager")
	b.says("first version")
	b.quiet()

	// Restoring an earlier recipe sets the dials without saving.
	b.eval(`(() => { [...document.querySelectorAll("[data-recipe]")].at(-1).click(); return ""; })()`)
	b.until(`document.getElementById("n-ratio").value === "14.6"`)

	// A concurrent change of the set-up is not overwritten.
	setup.Beverages[0].HoldH = 6
	_, _, err = s.store.PutSetup(ctx, setup, "*", s.clock())
	require.NoError(t, err)
	b.tap("#save")
	b.says("Somebody changed the settings.")
	after, _, err := s.store.Setup(ctx, site)
	require.NoError(t, err)
	assert.InDelta(t, 15.2, after.Beverages[0].Ratio, 1e-9)
	assert.InDelta(t, 6, after.Beverages[0].HoldH, 1e-9)
}

func TestRecipesAndCountByKeyboard(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	b.goTo(s.base + "/s/lido/recipes")
	b.until(`document.getElementById("o-tds").textContent !== "–"`)
	before := b.eval(`document.getElementById("o-tds").textContent`)
	b.eval(`(() => { document.getElementById("n-ratio").focus(); return ""; })()`)
	b.key(kb.Tab)
	assert.Equal(t, "r-ratio", b.eval(`document.activeElement.id`))
	for range 5 {
		b.key(kb.ArrowRight)
	}
	b.until(fmt.Sprintf(`document.getElementById("o-tds").textContent !== %q`, before))
	assert.Equal(t, "15.1", b.eval(`document.getElementById("n-ratio").value`))
	assert.Equal(t, "15.1 g water per g", b.eval(`document.getElementById("r-ratio").getAttribute("aria-valuetext")`))

	b.goTo(s.base + "/s/lido/count")
	b.eval(`(() => { document.getElementById("pass").focus(); return ""; })()`)
	b.key(kb.Tab) // Save, with nothing to save yet, is passed over
	assert.Equal(t, "amount", b.eval(`document.activeElement.id`))
	b.typeIn("#amount", "11.5")
	b.key(kb.Enter)
	b.says("2.5\u202fkg more than expected")
	assert.Equal(t, "amount", b.eval(`document.activeElement.id`), "the next row may be typed at once")
	b.quiet()
}

func TestMeasuredBrewsFitTheCoffee(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	b.goTo(s.base + "/s/lido/recipes?beverage=flash")
	b.click("#fit")
	b.says("Save two brews first.")
	b.click("#add-brew button")
	b.says("Enter all four numbers.")
	// Brews of a coffee of which 20 % dissolves and whose grounds keep 2 g per g: M = W + 0.2 d, B = M − 2 d, TDS = 0.2 d/M.
	for i, brew := range [][4]string{{"60", "720", "612", "1.639"}, {"500", "6 kg", "5100", "1.639 %"}} {
		for k, v := range brew {
			b.set(fmt.Sprintf("#add-brew label:nth-of-type(%d) input", k+1), v)
		}
		b.click("#add-brew button")
		b.until(fmt.Sprintf(`document.querySelectorAll("#brews tbody tr").length === %d`, i+1))
	}
	b.click("#fit")
	b.says("2 brews: maximum yield 20.0 ± 0.0%, 2.00 ± 0.00 g water per g of grounds (95%).")
	assert.Equal(t, "2", b.eval(`document.querySelectorAll(".brew-chart .measured").length`))
	b.click("#use-fit")
	b.until(`document.getElementById("n-max_yield_pct").value === "20"`)
	b.says("→ 20%")

	// They are on the server, with who measured them; a removed one comes back by Undo.
	kept, err := s.store.MeasuredBrews(ctx, site, "ridge")
	require.NoError(t, err)
	require.Len(t, kept, 2)
	assert.InDelta(t, 6000, kept[1].BrewWaterG, 1e-9)
	assert.Equal(t, "manager", kept[1].By)
	other := open(t, ctx, s.base+"/s/lido/recipes?beverage=flash")
	other.until(`document.querySelectorAll("#brews tbody tr").length === 2`)
	other.click("#brews tbody tr button")
	other.until(`document.querySelectorAll("#brews tbody tr").length === 1`)
	other.click("#restore-brew")
	other.until(`document.querySelectorAll("#brews tbody tr").length === 2`)
	b.goTo(s.base + "/s/lido/recipes?beverage=flash")
	assert.Contains(t, b.eval(`document.querySelector("#brews tbody").innerText`), "720\u202fg")
	b.fits("Recipes")
	b.quiet()
}

func TestRecipesUseTheSitesUnits(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	setup, _, err := s.store.Setup(ctx, site)
	require.NoError(t, err)
	setup.Site.Units = &models.Units{Temperature: "f", Mass: "oz_lb", Volume: "fl_oz_gal", Clock: "12h", Dates: "month_day"}
	_, _, err = s.store.PutSetup(ctx, setup, "*", s.clock())
	require.NoError(t, err)
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	b.goTo(s.base + "/s/lido/recipes")
	b.until(`document.getElementById("o-temp").textContent === "41\u202f°F"`)
	assert.Equal(t, "179.6", b.eval(`document.getElementById("n-brewer_out_temp_c").value`))
	b.set("#n-target_temp_c", "46.4")
	b.until(`document.getElementById("o-temp").textContent === "46\u202f°F"`)
	b.says("lb")
	b.click("#save")
	b.says("Saved.")
	after, _, err := s.store.Setup(ctx, site)
	require.NoError(t, err)
	assert.InDelta(t, 8, after.Beverages[0].TargetTempC, 1e-6, "stored in °C")
	b.says("Final temperature: 41\u202f°F → 46\u202f°F")
	b.quiet()
	b.fits("Recipes")
}
