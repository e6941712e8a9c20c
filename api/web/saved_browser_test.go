package web_test

import (
	"context"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// lateTimers has a page collect its timers of more than 10 s in "late" instead of setting them; those of 10 s are this test's own.
const lateTimers = `(() => {
	const set = window.setTimeout, clear = window.clearTimeout;
	window.late = new Map();
	window.setTimeout = (run, ms, ...rest) => {
		if (!(ms > 10000)) return set(run, ms, ...rest);
		const id = 1e9 + late.size + Math.random();
		late.set(id, run);
		return id;
	};
	window.clearTimeout = (id) => { late.delete(id); clear(id); };
})()`

func (b *tab) collectLateTimers() {
	b.t.Helper()
	_, err := chromedp.Run(b.ctx, func(ctx context.Context, t *chromedp.Target) (any, error) {
		return cdp.Call(ctx, t, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: lateTimers})
	})
	require.NoError(b.t, err)
}

const bar = `document.querySelector(".saved")`

func TestWhatWasSavedCanBeUndoneWhereItWasDone(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.collectLateTimers()
	b.signIn(s)
	b.click("button[name=again]")
	b.until(`document.body.dataset.revision === "1"`)

	// A number of the expected sales: the next Tab leads to Undo, and the bar stays while it has the focus.
	b.eval(`(() => { const i = document.querySelector('input[data-part="midday"]'); i.closest("details")?.setAttribute("open", ""); i.focus(); window.was = i.value; i.value = "61"; i.dispatchEvent(new Event("change")); return ""; })()`)
	b.until(bar + `.checkVisibility() && ` + bar + `.getAttribute("role") === "status"`)
	b.until(`late.size === 1`) // at least 10 s
	b.typeIn(":focus", "\t")
	b.until(`document.activeElement.textContent === "Undo" && late.size === 0`)
	b.click(".saved button")
	b.says("Undone.")
	assert.Equal(t, "true", b.eval(`document.querySelector('input[data-part="midday"]').value === was`))
	rows, err := s.store.ExpectedDemand(context.Background(), site, saturday, saturday)
	require.NoError(t, err)
	for _, r := range rows {
		if r.Expected != nil {
			assert.NotEqual(t, 61.0, *r.Expected)
		}
	}
	b.eval(`document.activeElement.blur()`)
	b.until(`late.size === 1`) // at least 10 s
	b.eval(`[...late.values()][0]()`)
	b.until(`!` + bar + `.checkVisibility()`)

	// Settings: the page after the one that saved.
	setup, _, err := s.store.Setup(context.Background(), site)
	require.NoError(t, err)
	b.goTo(s.base + "/s/lido/setup/shop")
	b.eval(`(() => { const i = document.querySelector('input[name="/site/name"]'); i.focus(); i.value = "Another name"; i.dispatchEvent(new Event("input", {bubbles: true})); return ""; })()`)
	b.until(`sessionStorage.getItem("hotday.saved")`)
	b.click("p.save button.do:not([name])")
	b.until(`location.search === "?saved=1" && ` + bar + `?.checkVisibility()`)
	changed, _, err := s.store.Setup(context.Background(), site)
	require.NoError(t, err)
	require.Equal(t, "Another name", changed.Site.Name)
	b.click(".saved button")
	b.until(`location.search === "" && document.querySelector('input[name="/site/name"]').value !== "Another name"`)
	back, _, err := s.store.Setup(context.Background(), site)
	require.NoError(t, err)
	assert.Equal(t, setup, back)
	b.quiet()
}
