package web_test

import (
	"context"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// On a phone: with a plan in place, an outage is entered, corrected, replanned and deleted.
func TestEventsOnAPhone(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	setup, _ := s.setup(t)
	brewer := setup.Brewers[0].Code
	b := open(t, ctx, s.base+"/sign-in")
	require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(360, 740)))
	b.signIn(s)
	b.click("button[name=again]")
	b.until(`document.body.dataset.revision === "1"`)
	b.click(`main a[href="/s/lido/known"]`)
	b.until(`location.pathname === "/s/lido/known"`)
	b.says("Nothing yet.")

	// By keyboard, with an error at its field.
	b.reach(`.choices a[href$="/outage"]`)
	b.key("\r")
	b.until(`location.pathname.endsWith("/outage")`)
	set := func(field, value string) {
		b.eval(`(document.getElementById("f/outage/` + field + `").value = "` + value + `", "")`)
	}
	set("what", "brewer "+brewer)
	set("from", "2026-07-11T10:00")
	set("to", "2026-07-11T09:00")
	b.reach("#save")
	b.key("\r")
	b.says("Enter a time after")
	b.mu.Lock()
	assert.Len(t, b.errors, 1, "the browser logs the 422")
	b.errors = nil
	b.mu.Unlock()
	assert.Equal(t, "true", b.eval(`document.getElementById("f/outage/to").getAttribute("aria-invalid")`))
	assert.Equal(t, "2026-07-11T10:00", b.eval(`document.getElementById("f/outage/from").value`), "the input is kept")
	b.click(`#wrongs a`)
	assert.Equal(t, "f/outage/to", b.eval(`document.activeElement.id`), "the error list links to the field")
	set("to", "2026-07-11T12:00")
	b.click("#save")
	b.says("Brewer " + brewer + " out of order.")
	b.says("Plan 1, made")

	b.click(`.things .acts a`)
	b.until(`location.pathname.endsWith("/outage")`)
	set("to", "2026-07-11T11:00")
	b.click("#save")
	b.says("Saturday 11 July 10:00–11:00")
	away, err := s.store.Outages(context.Background(), site, berlin(t, saturday, 0, 0), berlin(t, saturday, 24, 0))
	require.NoError(t, err)
	shorter := []models.Outage{{Kind: "brewer", Code: brewer, From: berlin(t, saturday, 10, 0), To: berlin(t, saturday, 11, 0)}}
	require.Equal(t, shorter, away)
	undo := func() []models.Outage {
		b.until(bar + `?.checkVisibility()`)
		b.click(".saved button")
		b.until(`location.search === ""`)
		away, err := s.store.Outages(context.Background(), site, berlin(t, saturday, 0, 0), berlin(t, saturday, 24, 0))
		require.NoError(t, err)
		return away
	}
	assert.Equal(t, []models.Outage{{Kind: "brewer", Code: brewer, From: berlin(t, saturday, 10, 0), To: berlin(t, saturday, 12, 0)}}, undo(), "the change is undone, nothing doubled")
	b.click(`.things button[name=back]`)
	b.until(`location.search === "?saved=1"`)
	undo()
	b.click(`.things .acts a`)
	b.until(`location.pathname.endsWith("/outage")`)
	set("to", "2026-07-11T11:00")
	b.click("#save")
	b.says("Saturday 11 July 10:00–11:00")

	b.click(`.stale a`)
	b.until(`location.pathname.endsWith("/weekend")`)
	b.click("button[name=again]")
	b.until(`document.body.dataset.revision === "2"`)
	b.goTo(s.base + "/s/lido/known")
	assert.Equal(t, "true", b.eval(`!document.querySelector(".stale")`), "the plan is up to date")
	b.click(`.things button[name=back]`)
	b.says("It still includes:")
	b.quiet()

	for _, path := range []string{"", "/event", "/holiday", "/closed", "/outage", "/attention", "/off_sale"} {
		for _, width := range []int64{320, 768, 1366, 3840} {
			require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(width, 740)))
			b.goTo(s.base + "/s/lido/known" + path)
			assert.Equal(t, "true", b.eval(`document.documentElement.scrollWidth <= innerWidth`), "%s at %d px scrolls sideways", path, width)
		}
	}
	b.quiet()
}

// On a phone an event that makes a planned day 30% busier takes two taps from Weekend: its effect, and "Save and plan again".
func TestEventTakesTwoTaps(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithTimeout(browser(t), 4*time.Minute)
	t.Cleanup(cancel)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.phone(390, 844)
	b.signIn(s)
	b.click("button[name=again]")
	b.until(`document.body.dataset.revision === "1"`)
	taps := 0
	tap := func(selector string) {
		b.tap(selector)
		taps++
	}
	tap(`.quick-event label:has(input[value="1.3"])`)
	tap(`.quick-event button.do`)
	b.until(`document.body.dataset.revision === "2"`)
	t.Logf("event +30%%: %d taps", taps)
	assert.LessOrEqual(t, taps, 2)
	events, err := s.store.Events(context.Background(), site, berlin(t, saturday, 0, 0), berlin(t, saturday, 24, 0))
	require.NoError(t, err)
	require.Len(t, events, 1)
	assert.InDelta(t, 1.3, events[0].Factor, 1e-9)
	b.says("Saturday 11 July: 30% busier than usual.")
	assert.Equal(t, "true", b.eval(`!document.body.innerText.includes("Not in the plan yet.")`))

	// Typed, for a part of the day; what is not clear stays in the form.
	b.goTo(s.base + "/s/lido/known")
	b.tap(`.quick-event label:has(input[value="midday"])`)
	b.eval(`(document.querySelector(".quick-event [name=other]").value = "a lot", "")`)
	b.tap(".quick-event button.do")
	b.says("“a lot” isn’t clear.")
	assert.Equal(t, "true", b.eval(`document.querySelector('.quick-event input[value="midday"]').checked`))
	b.eval(`(document.querySelector(".quick-event [name=other]").value = "20% quieter", "")`)
	b.tap(".quick-event button.do")
	b.until(`document.body.dataset.revision === "3"`)
	b.says("20% quieter than usual.")
}
