package web_test

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// speaks sets the shop's language.
func (s *shop) speaks(t *testing.T, language string) {
	t.Helper()
	setup, etag := s.setup(t)
	setup.Site.Language = language
	_, _, err := s.store.PutSetup(context.Background(), setup, etag, s.clock())
	require.NoError(t, err)
}

// post sends a document to the service as the shop's manager.
func (s *shop) post(t *testing.T, path, doc string) {
	t.Helper()
	r, err := http.NewRequest(http.MethodPost, s.base+path, strings.NewReader(doc))
	require.NoError(t, err)
	r.Header.Set("Authorization", "Bearer "+s.key)
	r.Header.Set("Content-Type", "application/json")
	answer, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer func() { _ = answer.Body.Close() }()
	require.Less(t, answer.StatusCode, 300, path)
}

// english are words that no German page holds.
var english = regexp.MustCompile(`(?i)\b(the|and|with|of|your|from|until|about|save|cancel|undo|settings|drinks|beverages?|batch(es)?|ice bin|water|coffee|strain|day|days|made|when)\b`)

// Whatever a shop shows that is set to German is German: words, dates, numbers; and what is typed with a comma is read.
func TestPagesInGerman(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	s.short(t)
	s.speaks(t, "de")
	s.post(t, "/v1/sites/lido/plans", `{"from":"2026-07-11","days":1}`)
	s.post(t, "/v1/sites/lido/plans/1/publish", `{}`)
	v := s.visit(t)
	setup, _ := s.setup(t)
	own := []string{setup.Site.Name}
	for _, b := range setup.Beverages {
		own = append(own, b.Name, b.Code)
	}
	for _, d := range setup.Drinks {
		own = append(own, d.Name, d.Code)
	}
	for _, b := range setup.Brewers {
		own = append(own, b.Code)
	}
	for _, c := range setup.Coffees {
		own = append(own, c.Code)
	}
	for _, p := range setup.Site.DayParts {
		own = append(own, p.Code)
	}
	slices.SortFunc(own, func(a, b string) int { return cmp.Compare(len(b), len(a)) }) // a name may hold another
	pages := []string{"weekend", "kitchen", "count", "review", "recipes", "people", "known", "known/event", "known/outage", "setup", "till-items"}
	for _, section := range []string{"shop", "hours", "people", "safety", "coffees", "beverages", "drinks", "brewers", "ice", "water", "costs"} {
		pages = append(pages, "setup/"+section)
	}
	for _, page := range pages {
		text := v.get("/s/lido/" + page)
		assert.Contains(t, text, `<html lang="de">`, page)
		said := read(text)
		for _, name := range own {
			if name != "" {
				said = strings.ReplaceAll(said, name, "…")
			}
		}
		for _, at := range english.FindAllStringIndex(said, -1) {
			assert.Fail(t, "English", "%s: %q in “%s”", page, said[at[0]:at[1]], strings.Join(strings.Fields(said[max(0, at[0]-60):min(len(said), at[1]+40)]), " "))
		}
	}
	assert.Contains(t, read(v.get("/s/lido/weekend")), "Samstag")
	assert.Contains(t, v.get("/s/lido/setup/beverages"), `value="1,45"`, "a number in a field has a decimal comma")
	whole := typed(v.get("/s/lido/setup/beverages"))
	whole.Set("/beverages/0/target_tds_pct", "1,5")
	status, page := v.post("/s/lido/setup/beverages", whole)
	require.Less(t, status, 400, page)
	setup, _ = s.setup(t)
	assert.InDelta(t, 1.5, setup.Beverages[0].TargetTDSPct, 1e-9)
	_, page = v.post("/s/lido/people/accounts-add", url.Values{"name": {"Ada"}, "sign_in": {"ada b"}, "scope": {"read"}})
	assert.Contains(t, page, "Gib eine E-Mail-Adresse ein")
}

// A page without a shop is in the browser's language.
func TestPagesWithoutAShopFollowTheBrowser(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	for accepted, want := range map[string]string{"de-AT,de;q=0.9,en;q=0.8": "Anmelden", "en-GB,de;q=0.5": "Sign in", "fr": "Sign in", "": "Sign in"} {
		r, err := http.NewRequest(http.MethodGet, s.base+"/sign-in", nil)
		require.NoError(t, err)
		r.Header.Set("Accept-Language", accepted)
		answer, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		page := body(t, answer)
		_ = answer.Body.Close()
		assert.Contains(t, page, want, accepted)
	}
}

// The Recipes page of a German shop is German in an English browser too: the service's sentences, and the numbers of the dials.
func TestDialsInGerman(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithTimeout(browser(t), 3*time.Minute)
	defer cancel()
	s := newShop(t)
	s.speaks(t, "de")
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	b.goTo(s.base + "/s/lido/recipes")
	text := func(id string) string { return b.eval(`document.getElementById("` + id + `").textContent`) }
	value := func(id string) string { return b.eval(`document.getElementById("` + id + `").value`) }
	assert.Equal(t, "14,6", value("n-ratio"))
	b.until(`document.getElementById("cautions").children.length > 0`)
	for _, said := range []string{text("cautions"), text("answer")} {
		assert.NotRegexp(t, english, said)
	}
	assert.Equal(t, "18,0\u202f%", text("o-yield"))
	before := text("o-tds")
	b.set("#n-ratio", "15,2")
	b.until(fmt.Sprintf(`document.getElementById("o-tds").textContent !== %q`, before))
	assert.Equal(t, "15.2", value("r-ratio"), "a slider's number is HTML's")
	assert.Contains(t, text("differs"), "14,6")
	b.set("#r-ratio", "15.6")
	assert.Equal(t, "15,6", value("n-ratio"))
	assert.Contains(t, b.eval(`document.getElementById("r-ratio").getAttribute("aria-valuetext")`), "15,6")
	b.eval(`document.getElementById("reset").click()`)
	assert.Equal(t, "14,6", value("n-ratio"))
	b.quiet()
}

// overflowing lists elements whose text is wider than they are, or that stick out at the side.
const overflowing = `(() => [...document.querySelectorAll("main *, header *, nav *")].filter((e) => {
  const r = e.getBoundingClientRect(), style = getComputedStyle(e);
  if (!r.width || !e.checkVisibility() || e.closest("svg, .unseen, details:not([open]) > :not(summary)")) return false;
  for (let p = e.parentElement; p; p = p.parentElement) if (/auto|scroll/.test(getComputedStyle(p).overflowX)) return false;
  return r.right > innerWidth + 1 || (e.matches("button, h1, h2, p, a, label, legend, summary, b") && style.overflowX !== "visible" && e.scrollWidth > e.clientWidth + 1);
}).map((e) => e.tagName + "." + e.className + ": " + e.textContent.trim().slice(0, 60)).slice(0, 5).join(" | "))()`

// The longest German words fit on the wall and on a phone.
func TestGermanFits(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	s.short(t)
	s.speaks(t, "de")
	s.post(t, "/v1/sites/lido/plans", `{"from":"2026-07-11","days":1}`)
	s.post(t, "/v1/sites/lido/plans/1/publish", `{}`)
	ctx, cancel := context.WithTimeout(ctx, 3*time.Minute)
	defer cancel()
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	for _, size := range [][2]int64{{1920, 1080}, {390, 844}} {
		require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(size[0], size[1])))
		for _, page := range []string{"kitchen", "weekend", "count", "review", "recipes", "people", "known", "known/event", "setup", "setup/shop", "setup/ice", "setup/beverages", "till-items"} {
			b.goTo(s.base + "/s/lido/" + page)
			assert.Equal(t, "true", b.eval(`document.documentElement.scrollWidth <= innerWidth`), "%s at %d px scrolls sideways", page, size[0])
			assert.Empty(t, b.eval(overflowing), "%s at %d × %d", page, size[0], size[1])
		}
	}
}
