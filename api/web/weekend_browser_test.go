package web_test

import (
	"context"
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// reach presses Tab until the focus is on the element.
func (b *tab) reach(selector string) {
	b.t.Helper()
	for range 600 {
		if b.eval(fmt.Sprintf("document.activeElement.matches(%q)", selector)) == "true" {
			return
		}
		b.key("\t")
	}
	b.t.Fatalf("Tab never reaches %s", selector)
}

func (b *tab) key(keys string) {
	b.t.Helper()
	require.NoError(b.t, chromedp.Do(b.ctx, chromedp.KeyEvent(keys)))
}

// short leaves the shop with too little ice.
func (s *shop) short(t *testing.T) {
	t.Helper()
	setup, etag, err := s.store.Setup(context.Background(), site)
	require.NoError(t, err)
	setup.Ice.OpeningG, setup.Ice.Makers[0].KgPerDayRated = 500, 4
	_, _, err = s.store.PutSetup(context.Background(), setup, etag, s.clock())
	require.NoError(t, err)
}

// A manager plans, corrects a number, tries and applies a fix, and publishes; then sets one new plan aside and publishes another.
func TestWeekendWorkflow(t *testing.T) {
	t.Parallel()
	hands := map[string]struct {
		width, height int64
		press         func(b *tab, selector string)
		enter         func(b *tab, selector, text string)
	}{
		"by touch on a phone": {360, 740,
			func(b *tab, selector string) { b.tap(selector) },
			func(b *tab, selector, text string) {
				b.tap(selector)
				b.eval("document.activeElement.select()")
				b.key(text)
				b.eval("document.activeElement.blur()")
			}},
		"by keyboard on a laptop": {1280, 800,
			func(b *tab, selector string) { b.reach(selector); b.key("\r") },
			func(b *tab, selector, text string) {
				b.reach(selector)
				b.eval("document.activeElement.select()")
				b.key(text + "\t")
			}},
	}
	for name, hand := range hands {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			ctx := browser(t)
			s := newShop(t)
			s.short(t)
			b := open(t, ctx, s.base+"/sign-in")
			if hand.width < 600 {
				b.phone(hand.width, hand.height)
			} else {
				require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(hand.width, hand.height)))
			}
			b.signIn(s)
			hand.press(b, "button[name=again]")
			b.until(`document.body.dataset.revision === "1"`)

			hand.press(b, "details.parts > summary")
			number := `input[data-part="midday"][data-drink]`
			hand.enter(b, number, "many")
			b.until(`document.querySelector(".asked td .wrong")`)
			assert.Equal(t, "true", b.eval(fmt.Sprintf(`document.querySelector(%q).getAttribute("aria-describedby").includes(document.querySelector(".asked td .wrong").id)`, number)), "the error is at its field")
			hand.enter(b, number, "60")
			b.says("Saved. Plan again to use it.")
			assert.Equal(t, "0", b.eval(`document.querySelectorAll(".asked td .wrong").length`))
			if hand.width > 600 {
				b.eval(`document.querySelector("button[name=again]").focus()`)
			}
			hand.press(b, "button[name=again]")
			b.until(`document.body.dataset.revision === "2"`)
			assert.Equal(t, "60", b.eval(`document.querySelector('td.word input[data-part="midday"]').value`))

			hand.press(b, ".warning .try")
			b.until(`document.querySelectorAll(".tried .pair svg").length >= 2`)
			b.says("With this")
			hand.press(b, ".take")
			b.until(`document.body.dataset.revision === "3"`)

			hand.press(b, "#publish")
			b.says("Published ")

			hand.press(b, "details.parts > summary")
			hand.enter(b, number, "75")
			b.says("Saved. Plan again to use it.")
			if hand.width > 600 {
				b.eval(`document.querySelector("button[name=again]").focus()`)
			}
			hand.press(b, "button[name=again]")
			b.says("New plan.")
			assert.Equal(t, "4", b.eval("document.body.dataset.revision"))
			assert.Equal(t, "true", b.eval(`document.querySelectorAll(".differs li").length > 0`), "the differences from the published plan are listed")
			hand.press(b, "#aside")
			b.says("Plan 4 was dismissed.")
			assert.Equal(t, "3", b.eval("document.body.dataset.revision"), "the published plan is shown")

			hand.press(b, "button[name=again]")
			b.says("New plan.")
			hand.press(b, "#publish")
			b.says("Published ")
			sheet, err := s.store.Sheet(context.Background(), site, saturday)
			require.NoError(t, err)
			assert.Equal(t, 4, sheet.Revision)
			b.quiet()
		})
	}
}
