package web_test

import (
	"context"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const shownCard = `document.querySelector("#card:not([hidden])")`

// The marks of a drawing say what they are in a card: by pointer, by keyboard with one stop of the Tab key, and by touch.
func TestMarksOpenTheirCard(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithTimeout(browser(t), 4*time.Minute)
	t.Cleanup(cancel)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	b.click("button[name=again]")
	b.until(`document.body.dataset.revision === "1"`)
	assert.Equal(t, "0", b.eval(`document.querySelectorAll("svg title").length`), "no native tooltips")
	assert.Equal(t, "1", b.eval(`document.querySelectorAll('.figure > .wide svg [tabindex="0"]').length`), "a drawing is one stop")

	mark := `.figure > .wide svg a.asks`
	b.eval(`(() => { const e = document.querySelector("` + mark + `"); e.scrollIntoView({ block: "center" }); return ""; })()`) //nolint:misspell // the name is CSS's
	x := number(t, b.eval(`(() => { const r = document.querySelector("`+mark+`").getBoundingClientRect(); return r.x + r.width / 2; })()`))
	y := number(t, b.eval(`(() => { const r = document.querySelector("`+mark+`").getBoundingClientRect(); return r.y + r.height / 2; })()`))
	require.NoError(t, chromedp.Do(b.ctx, chromedp.MouseEvent(chromedp.MouseMoved, x, y)))
	b.until(shownCard)
	assert.Equal(t, "true", b.eval(shownCard+`.textContent === document.querySelector("`+mark+`").getAttribute("aria-label")`))
	b.key(kb.Escape)
	b.until("!" + shownCard)

	b.eval(`(document.querySelector('.figure > .wide svg [tabindex="0"]').focus(), "")`)
	b.until(shownCard)
	first := b.eval(shownCard + ".textContent")
	b.key(kb.ArrowRight)
	b.until(shownCard + ".textContent !== " + `"` + first + `"`)
	assert.Equal(t, "1", b.eval(`document.querySelectorAll('.figure > .wide svg [tabindex="0"]').length`))
	b.key("\t")
	b.until("!" + shownCard)

	b.phone(390, 844)
	b.goTo(s.base + "/s/lido/weekend")
	narrow := `.figure > .narrow svg a.asks`
	b.tap(narrow)
	b.until(shownCard)
	assert.Equal(t, "true", b.eval(`(() => { const r = `+shownCard+`.getBoundingClientRect(); return r.left >= 0 && r.right <= innerWidth; })()`), "clear of the edges")
	assert.Empty(t, b.eval("location.hash"), "a tap opens the card and leads nowhere")
	b.tap(narrow)
	b.until("!" + shownCard)
	b.quiet()
}
