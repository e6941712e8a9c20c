package web_test

import (
	"regexp"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// inView is the text of the page's content that is wholly in the window, without scrolling.
const inView = `[...document.querySelectorAll("main *, main")].filter((e) => e.childElementCount === 0 && e.checkVisibility()).filter((e) => {
	const r = e.getBoundingClientRect(), bar = document.querySelector(".pagebar"), fixed = getComputedStyle(bar).position === "fixed";
	return r.width > 0 && r.left >= 0 && r.right <= innerWidth && r.top >= 0 && r.bottom <= (fixed ? bar.getBoundingClientRect().top : innerHeight);
}).map((e) => e.textContent).join("\n")`

// A manager's four questions are answered by what is in view: how hot, how many and can we make them, will the ice last, what now?
func TestTheFirstScreenAnswersFourQuestions(t *testing.T) {
	t.Parallel()
	for name, size := range map[string][2]int64{"laptop": {1280, 800}, "phone": {390, 844}} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			ctx := browser(t)
			s := newShop(t)
			s.short(t)
			b := open(t, ctx, s.base+"/sign-in")
			if size[0] < 600 {
				b.phone(size[0], size[1])
			} else {
				require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(size[0], size[1])))
			}
			b.signIn(s)
			b.click("button[name=again]")
			b.until(`document.body.dataset.revision === "1"`)
			seen := b.eval(inView)
			for question, answer := range map[string]string{
				"which day":    `Sat 11 Jul`,
				"how hot":      `\d °C\n(.*\n)*hottest, at \d\d:\d\d|hottest, at \d\d:\d\d[^\n]*\n(.*\n)*\d+\x{202f}°C`,
				"how many":     `drinks wanted; (enough for all|\d+ will be missed)`,
				"the ice":      `(ice may run out, (about \d|almost)|least in the ice bin, at)`,
				"the headline": `Saturday: .+ may run out at \d\d:\d\d, (about \d+ in \d+|almost certain)`,
				"what now":     `Try: `,
				"the picture":  `Ice for drinks`,
			} {
				assert.Regexp(t, regexp.MustCompile(answer), seen, question)
			}
			assert.Equal(t, "true", b.eval(`[...document.querySelectorAll(".figure svg.picture")].some((e) => e.checkVisibility() && e.getBoundingClientRect().top < innerHeight - 250)`), "most of the picture is above the fold")
			assert.Equal(t, "false", b.eval(`document.documentElement.scrollWidth > innerWidth`), "nothing is cut off at the side")
			b.quiet()
		})
	}
}
