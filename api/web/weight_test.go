package web_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// mostBytes is what a page may load in all, as it goes over the wire, where the browser has nothing yet.
const mostBytes = 200 << 10

// weight is what a page loaded and when it was first painted.
const weight = `(() => {
	const entries = [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")];
	const paint = performance.getEntriesByName("first-contentful-paint")[0];
	const font = entries.filter((e) => e.name.endsWith(".woff2")).reduce((sum, e) => sum + e.encodedBodySize, 0);
	return JSON.stringify({bytes: entries.reduce((sum, e) => sum + e.encodedBodySize, 0), font, files: entries.length, paint: paint ? Math.round(paint.startTime) : 0});
})()`

// A page that a browser sees for the first time is light. When it was painted is logged only: that depends on the machine.
func TestPagesAreLight(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	s.everyPage(t, b, func(path string) {
		b.goTo(s.base + path)
		b.until(`document.fonts.status === "loaded" && performance.getEntriesByName("first-contentful-paint").length`)
		var w struct{ Bytes, Font, Files, Paint int }
		require.NoError(t, json.Unmarshal([]byte(b.eval(weight)), &w))
		t.Logf("%-45s %4d KiB (font %d KiB), %d files, first paint after %d ms", path, w.Bytes>>10, w.Font>>10, w.Files, w.Paint)
		assert.LessOrEqual(t, w.Bytes, mostBytes, path)
		assert.Positive(t, w.Font, "%s has the font", path)
	})
}
