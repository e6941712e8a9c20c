package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"regexp"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/say"
)

// phone emulates a touch screen.
func (b *tab) phone(width, height int64) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b.ctx, chromedp.EmulateViewport(width, height)))
	_, err := chromedp.Run(b.ctx, func(ctx context.Context, t *chromedp.Target) (cdp.Empty, error) {
		return cdp.Call(ctx, t, emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: true})
	})
	require.NoError(b.t, err)
}

// tap touches the middle of an element and returns its vertical position on the screen, 0 to 1.
func (b *tab) tap(selector string) float64 {
	b.t.Helper()
	var at struct{ X, Y, W, H, Down float64 }
	// A response may move the control, so wait until its position is stable.
	where, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](fmt.Sprintf(`(async () => {
		const at = () => { const e = document.querySelector(%q); if (!e) return ""; e.scrollIntoView({block: "nearest"}); const r = e.getBoundingClientRect();
			return JSON.stringify({X: r.x + r.width / 2, Y: r.y + r.height / 2, W: r.width, H: r.height, Down: (r.y + r.height / 2) / innerHeight}); };
		for (let was = "", still = 0, tries = 0; still < 3 && tries < 200; tries++) {
			const is = at();
			still = is === was ? still + 1 : 0;
			was = is;
			await new Promise((done) => setTimeout(done, 80));
		}
		return at();
	})()`, selector), chromedp.EvalAwaitPromise))
	require.NoError(b.t, err, selector)
	require.NoError(b.t, json.Unmarshal([]byte(where), &at), selector)
	assert.GreaterOrEqual(b.t, at.H, 44.0, "%s is not tall enough to hit with a wet thumb", selector)
	assert.GreaterOrEqual(b.t, at.W, 44.0, "%s is too narrow to hit with a wet thumb", selector)
	for _, p := range []input.DispatchTouchEventParams{{Type: "touchStart", TouchPoints: []*input.TouchPoint{{X: at.X, Y: at.Y}}}, {Type: "touchEnd", TouchPoints: []*input.TouchPoint{}}} {
		_, err := chromedp.Run(b.ctx, func(ctx context.Context, t *chromedp.Target) (cdp.Empty, error) {
			return cdp.Call(ctx, t, input.DispatchTouchEvent, p)
		})
		require.NoError(b.t, err, selector)
	}
	return at.Down
}

// fits checks that the page does not scroll sideways on any screen size.
func (b *tab) fits(name string) {
	b.t.Helper()
	for _, width := range []int64{320, 390, 768, 1440, 3840} {
		require.NoError(b.t, chromedp.Do(b.ctx, chromedp.EmulateViewport(width, 900)))
		assert.Equal(b.t, "true", b.eval(`document.documentElement.scrollWidth <= innerWidth`), "%s scrolls sideways at %d px", name, width)
	}
}

func (s *shop) counts(t *testing.T) []models.StockCount {
	t.Helper()
	list, err := s.store.StockCounts(context.Background(), site, s.clock().Add(-48*time.Hour), s.clock().Add(48*time.Hour))
	require.NoError(t, err)
	return list
}

// signInForCount opens the Count page as kitchen staff.
func (b *tab) signInForCount(s *shop) {
	b.t.Helper()
	_, key, err := s.store.AddToken(context.Background(), models.Token{Name: "bar", Scopes: []string{models.ScopeKitchen}, Site: site}, s.clock())
	require.NoError(b.t, err)
	b.goTo(s.base + "/sign-in")
	b.typeIn("#key", key)
	b.click("button.do")
	b.until(`location.pathname === "/s/lido/kitchen"`)
	b.goTo(s.base + "/s/lido/count")
	b.until(`!document.getElementById("hand").hidden`)
}

// inHand is the name of the row that is being counted.
const inHand = `document.querySelector(".pick[aria-current]").closest("li").dataset.name`

func kept(id string) string {
	return fmt.Sprintf(`document.querySelector("#%s .found").textContent`, id)
}

// Every row is counted by touch alone, keeps what was found, when and how far from expected, also over a reload, and can be undone.
func TestCountingOnAPhoneWithoutAKeyboard(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	made := s.clock().Add(-2 * time.Hour)
	require.NoError(t, s.store.AddStockCount(ctx, site, models.StockCount{CountedAt: s.clock().Add(-time.Hour), Beverages: []models.Stock{{Beverage: "flash", G: 4200, MadeAt: made}}}, s.clock()))
	b := open(t, ctx, s.base+"/sign-in")
	b.phone(390, 844)
	b.signInForCount(s)
	assert.Equal(t, "0", b.eval(`document.querySelectorAll("svg.vessel").length`), "no drawing of a vessel")

	taps := 0
	tap := func(selector string) {
		b.tap(selector)
		taps++
	}
	// Ice: about half, then an eighth more.
	b.says("Expected 9.0\u202fkg, from the count 06:15")
	tap(`[data-amount="10000"]`)
	assert.Equal(t, "about half", b.eval(`document.getElementById("estimate").textContent`))
	tap(`[data-nudge="2500"]`)
	assert.Equal(t, "five eighths", b.eval(`document.getElementById("estimate").textContent`))
	assert.Equal(t, "Save 12.5\u202fkg", b.eval(`document.getElementById("save").textContent`))
	tap("#save")
	t.Logf("ice counted on the phone, an eighth more than about half: %d taps", taps)
	found := regexp.MustCompile(`^12\.5\x{202f}kg at 06:3\d, 3\.5\x{202f}kg more than expected$`)
	b.says("Saved. The plan will use it.")
	assert.Regexp(t, found, b.eval(kept("ice-0")))
	require.Len(t, s.counts(t), 2)
	assert.InDelta(t, 12500, *s.counts(t)[1].IceG, 1e-6)

	// After a reload the row still says so; Undo takes the count back.
	b.goTo(s.base + "/s/lido/count")
	b.until(kept("ice-0") + ` !== ""`)
	assert.Regexp(t, found, b.eval(kept("ice-0")))
	b.tap("#ice-0 .undo")
	b.says("Undone.")
	assert.Len(t, s.counts(t), 1)
	assert.Equal(t, "Ice for drinks", b.eval(inHand))
	b.tap("#pass")

	// Ice-bath ice is skipped; the tank by level and by litre, and typed where there is a keyboard.
	b.tap("#pass")
	assert.Equal(t, "RO water", b.eval(inHand))
	b.tap(`[data-amount="45"]`)
	b.tap(`[data-nudge="-1"]`)
	assert.Equal(t, "44", b.eval(`document.getElementById("amount").value`))
	assert.Equal(t, "decimal", b.eval(`document.getElementById("amount").inputMode`), "a numeric keypad")
	b.eval(`(() => { document.getElementById("amount").value = ""; return ""; })()`)
	b.typeIn("#amount", "99")
	b.tap("#save")
	b.says("It holds 60\u202fL at most.")
	b.tap(`[data-amount="45"]`)
	b.tap("#save")

	// A batch on record, one that is not and needs the time on its label, and a bag of beans.
	assert.Equal(t, "Ridge flash", b.eval(inHand))
	b.tap(`[data-amount="4000"]`)
	b.tap(`[data-nudge="100"]`)
	b.tap("#save")
	b.tap(`[data-amount="1000"]`)
	b.tap("#save")
	b.says("Enter when it was made")
	b.tap(`[data-minutes="-60"]`)
	b.tap(`[data-minutes="-10"]`)
	b.tap("#save")
	b.until(inHand + `.includes("ridge-1")`)
	b.tap(`[data-amount="2000"]`)
	b.tap(`[data-nudge="500"]`)
	b.tap(`[data-place="freezer"]`)
	b.tap("#save")
	b.until(`localStorage.getItem("hotday.counts.lido") === "[]"`)
	b.quiet()

	var beverages []models.Stock
	var tank float64
	var lots []models.LotCount
	for _, c := range s.counts(t)[1:] {
		if c.TankL != nil {
			tank = *c.TankL
		}
		if c.Beverages != nil {
			beverages = c.Beverages
		}
		lots = append(lots, c.Lots...)
	}
	assert.InDelta(t, 45, tank, 1e-9)
	require.Len(t, beverages, 2, "a beverage with all its batches")
	assert.InDelta(t, 4100, beverages[0].G, 1e-6)
	assert.Equal(t, made.UTC(), beverages[0].MadeAt.UTC())
	assert.InDelta(t, 1000, beverages[1].G, 1e-6)
	assert.Equal(t, "05:20", beverages[1].MadeAt.In(s.clock().Location()).Format("15:04"))
	assert.Equal(t, []models.LotCount{{Lot: "ridge-1", Grams: 2500, Place: "freezer"}}, lots)

	b.fits("Count")
}

// Every control of Count is large enough for a wall screen that is touched with wet hands.
func TestCountingOnTheWall(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.phone(1920, 1080)
	b.signInForCount(s)
	assert.Equal(t, "[]", b.eval(`JSON.stringify([...document.querySelectorAll("main button")].filter((e) => e.getClientRects().length).map((e) => [e.textContent.trim(), e.getBoundingClientRect().height]).filter(([, h]) => h < 64))`))
	b.tap(`[data-amount="10000"]`)
	b.tap("#save")
	b.says("Saved. The plan will use it.")
	t.Log("ice counted on the wall's Count page: 2 taps")
	assert.InDelta(t, 10000, *s.counts(t)[0].IceG, 1e-6)
	b.quiet()
}

func TestOfflineCountIsStoredOnce(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.phone(390, 844)
	b.signInForCount(s)
	s.cut.Store(true)
	b.tap(`[data-amount="10000"]`)
	b.tap("#save")
	b.says("Offline: kept on this device")
	b.says("10.0\u202fkg at 06:3")
	assert.Empty(t, s.counts(t))
	s.cut.Store(false)
	b.eval(`(() => { dispatchEvent(new Event("online")); return ""; })()`)
	b.says("Saved.")
	require.Len(t, s.counts(t), 1)

	// The response got lost: sending the same count again stores it once.
	doc, err := json.Marshal(s.counts(t)[0])
	require.NoError(t, err)
	b.eval(fmt.Sprintf(`(() => { localStorage.setItem("hotday.counts.lido", JSON.stringify([%s])); return ""; })()`, doc))
	b.goTo(s.base + "/s/lido/count")
	b.says("Saved.")
	assert.Len(t, s.counts(t), 1)
	assert.Equal(t, "[]", b.eval(`localStorage.getItem("hotday.counts.lido")`))

	// Undone while offline: the count is deleted once the network is back.
	s.cut.Store(true)
	b.tap("#ice-0 .undo")
	b.says("Offline: kept on this device")
	s.cut.Store(false)
	b.eval(`(() => { dispatchEvent(new Event("online")); return ""; })()`)
	b.says("Undone.")
	assert.Empty(t, s.counts(t))
}

func TestScriptsFormatAndParseQuantitiesLikeTheServer(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.signInForCount(s)
	loaded, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool](`import(document.querySelector('link[href$="/quantity.js"]').href).then((m) => { window.quantity = m.quantity; return true; })`, chromedp.EvalAwaitPromise))
	require.NoError(t, err)
	require.True(t, loaded)
	customary := models.Units{Temperature: "f", Mass: "oz_lb", Volume: "fl_oz_gal", Clock: "12h", Dates: "month_day"}
	for _, units := range []*models.Units{nil, &customary} {
		q := say.WriterFor(models.Site{Timezone: "UTC", Units: units})
		with := "quantity({pounds: false, gallons: false, fahrenheit: false})"
		if units != nil {
			with = "quantity({pounds: true, gallons: true, fahrenheit: true})"
		}
		for _, g := range []float64{0, 8.26, 18, 99.6, 453.5, 453.59237, 874, 999.6, 4670, 12345.6, 99499, 133300, -500} {
			assert.Equal(t, q.ExactMass(g), b.eval(fmt.Sprintf("%s.grams(%v)", with, g)), "%v g weighed", g)
			assert.Equal(t, q.GlanceMass(g), b.eval(fmt.Sprintf("%s.mass(%v)", with, g)), "%v g", g)
			assert.Equal(t, q.Volume(g/100), b.eval(fmt.Sprintf("%s.litres(%v)", with, g/100)), "%v L", g/100)
			assert.Equal(t, q.Temp(g/100), b.eval(fmt.Sprintf("%s.temp(%v)", with, g/100)), "%v °C", g/100)
		}
		for _, text := range []string{"4.5", "4,5", "4 500 g", "9 lb 14.7 oz", "0,500", "4,500", "", "x", "3 oz 2 lb", "1e5", "4\u202f500\u202fg", "4 kg 3"} {
			want := "NaN"
			if g, err := q.ReadMass(text, ""); err == nil {
				want = fmt.Sprintf("%.3f", g)
			}
			got := b.eval(fmt.Sprintf("((x) => Number.isNaN(x) ? 'NaN' : x.toFixed(3))(%s.readMass(%q, %q))", with, text, q.MassUnit()))
			assert.Equal(t, want, got, "%q", text)
		}
	}
}
