package web_test

import (
	"context"
	"fmt"
	"html"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// putState stores how a shop stands.
func (s *shop) putState(t *testing.T, r models.SiteRecord) {
	t.Helper()
	ctx := context.Background()
	r.State.Today, r.State.NextDay, r.State.Timezone = "2026-07-11", "2026-07-12", "Europe/Berlin"
	r.State.Units = models.Site{}.Shown()
	r.State.Name = strings.ToUpper(r.State.Site[:1]) + r.State.Site[1:] + " coffee"
	if _, _, err := s.store.Setup(ctx, r.State.Site); err != nil {
		_, _, err = s.store.PutSetup(ctx, models.Setup{Site: models.Site{Code: r.State.Site, Name: r.State.Name, Timezone: "Europe/Berlin", Currency: "EUR"}}, "", s.clock())
		require.NoError(t, err)
	}
	r.State.SetTroubles(r.State.Troubles)
	stale, err := s.store.StaleStates(ctx, s.clock().Add(time.Hour), 1000)
	require.NoError(t, err)
	of := models.StaleState{Site: r.State.Site}
	for _, x := range stale {
		if x.Site == of.Site {
			of = x
		}
	}
	require.NoError(t, s.store.PutSiteState(ctx, of, r, s.clock().Add(24*time.Hour)))
}

func (s *shop) putShops(t *testing.T) {
	t.Helper()
	now := s.clock()
	ago := func(d time.Duration) *time.Time { return new(now.Add(-d)) }
	state := func(site string, change func(*models.SiteState)) models.SiteRecord {
		x := models.SiteState{Site: site, HighC: new(35.0), Drinks: new(240.0), Plan: models.PlanMade, PlannedAt: ago(time.Hour), Published: ago(10 * time.Hour),
			CountsAt: ago(5 * time.Minute), WeatherAt: ago(2 * time.Hour), StockAt: ago(3 * time.Hour), IceG: new(12000.0), TasksDue: 10, TasksDone: 10}
		if change != nil {
			change(&x)
		}
		return models.SiteRecord{State: x, Days: []models.Date{"2026-07-11", "2026-07-12"}, Lots: []models.SiteLot{{Coffee: "house", Lot: "L7"}},
			Needs: []models.SiteNeed{{Date: "2026-07-12", Kind: models.NeedBeans, Name: "house", Unit: "g", Amount: 930},
				{Date: "2026-07-12", Kind: models.NeedSupply, Name: "milk", Unit: "ml", Amount: 8000, Short: 2000, OrderBy: new(now.Add(5 * time.Hour))}}}
	}
	s.putState(t, state("quay", nil))
	s.putState(t, state("pier", func(x *models.SiteState) {
		x.IceOutAt, x.IceOutChancePct = new(now.Add(33*time.Hour)), 52
		x.Warning = &models.StateWarning{Kind: models.WarnIceShort, Grade: models.GradeActNow, At: *x.IceOutAt, ChancePct: 52, Cause: "Ice runs out around 4 pm, 4 kg short."}
		x.Troubles = []models.Trouble{{Kind: models.TroubleActNow, At: x.IceOutAt}, {Kind: models.TroubleNotFollowed, At: ago(2 * time.Hour), N: 3}}
		x.TasksDone = 7
	}))
	s.putState(t, state("moor", func(x *models.SiteState) {
		x.Published, x.PublishDue = nil, ago(12*time.Hour)
		x.Troubles = []models.Trouble{{Kind: models.TroubleNotPublished, At: x.PublishDue}}
	}))
}

func TestAllShopsPage(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	s.putShops(t)
	v := s.visitWith(t, "", models.ScopeManage)
	page := html.UnescapeString(v.get("/shops"))
	order := []int{}
	for _, name := range []string{"Pier coffee", "Moor coffee", "Quay coffee"} {
		order = append(order, strings.Index(page, name))
	}
	require.IsIncreasing(t, order)
	require.Positive(t, order[0])
	for _, want := range []string{"Ice runs out around 4 pm, 4 kg short.", "3 tasks not ticked, the first due", "No sheet for Sunday yet. It was due", "Nothing to do.", "7 of 10 tasks done",
		"Sunday: high 35", "240 drinks", "may run out", `href="/s/pier/weekend"`} {
		require.Contains(t, page, want)
	}
	require.Contains(t, html.UnescapeString(v.get("/shops?search=quay")), "Quay coffee")
	require.NotContains(t, v.get("/shops?search=quay"), "Pier coffee")
	require.Contains(t, v.get("/shops?search=nothing"), "No shop matches.")
	require.Contains(t, v.get("/s/lido/weekend"), `href="/shops"`)
	require.Contains(t, v.get("/?choose=1"), `href="/shops"`)

	page = html.UnescapeString(v.get("/shops/orders?from=2026-07-12&last=2026-07-12"))
	for _, want := range []string{"milk", "more than in stock", "Order by", "Download (CSV)"} {
		require.Contains(t, page, want)
	}
	require.Contains(t, html.UnescapeString(v.get("/shops/orders?from=2026-07-12&last=2026-07-14")), "Quay coffee: no plan for Mon, Tue")
	page = html.UnescapeString(v.get("/shops/recall?lot=L7"))
	require.Contains(t, page, "May have used it: it has the lot")
	require.Contains(t, v.get("/shops/recall?lot=L8"), "May have used it: nothing known yet", "the fourth shop has not been looked at")
	require.Contains(t, v.get("/shops/recall?lot=L8&search=quay"), "No shop is known to have lot L8.")

	r, err := http.NewRequest("GET", s.base+"/shops/orders?from=2026-07-12&last=2026-07-14", nil)
	require.NoError(t, err)
	r.Header.Set("Accept-Language", "de")
	a, err := v.http.Do(r)
	require.NoError(t, err)
	german, err := io.ReadAll(a.Body)
	require.NoError(t, err)
	require.NoError(t, a.Body.Close())
	require.Contains(t, string(german), "2,8\u202fkg", "figures of all shops are in the reader's language")
	require.Contains(t, string(german), "für Mo, Di")

	// Who sees one shop, or its group, sees no other.
	_, err = s.store.PutGroup(t.Context(), models.Group{Code: "north", Name: "North", Sites: []string{"quay", "pier"}})
	require.NoError(t, err)
	_, err = s.store.PutGroup(t.Context(), models.Group{Code: "south", Name: "South", Sites: []string{"moor"}})
	require.NoError(t, err)
	_, key, err := s.store.AddToken(t.Context(), models.Token{Name: "Region", Scopes: []string{models.ScopeRead}, Groups: []string{"north"}}, s.clock())
	require.NoError(t, err)
	region := s.visitKey(t, key)
	page = region.get("/shops")
	require.Contains(t, page, "Pier coffee")
	require.NotContains(t, page, "Moor coffee")
	require.NotContains(t, page, "South")
	require.Contains(t, page, `href="/s/pier/kitchen"`, "who only reads cannot open Weekend")
	require.NotContains(t, region.get("/shops/orders?from=2026-07-12"), "Moor coffee")
	require.Equal(t, 404, region.status("/shops?group=south"))
	require.Equal(t, 403, s.visitWith(t, "", models.ScopeSales).status("/shops"))

	// The list alone is sent again only when it has changed.
	list := func(tag string) *http.Response {
		t.Helper()
		r, err := http.NewRequest("GET", s.base+"/shops?part=list", nil)
		require.NoError(t, err)
		r.Header.Set("If-None-Match", tag)
		a, err := v.http.Do(r)
		require.NoError(t, err)
		require.NoError(t, a.Body.Close())
		return a
	}
	tag := list("").Header.Get("ETag")
	require.Equal(t, 304, list(tag).StatusCode)
}

func TestAllShopsInABrowser(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	s.putShops(t)
	_, key, err := s.store.AddToken(t.Context(), models.Token{Name: "owner", Scopes: []string{models.ScopeManage}}, s.clock())
	require.NoError(t, err)
	b := open(t, ctx, s.base+"/sign-in")
	b.typeIn("#key", key)
	b.goes("button.do")
	b.goTo(s.base + "/shops")
	b.says("Nothing to do.")
	for _, size := range []struct{ width, height int64 }{{320, 800}, {390, 844}, {1366, 768}, {1920, 1080}} {
		require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(size.width, size.height)))
		for _, path := range []string{"/shops", "/shops/orders?from=2026-07-12&last=2026-07-13", "/shops/recall?lot=L7"} {
			b.goTo(s.base + path)
			assert.Equal(t, "true", b.eval(`document.documentElement.scrollWidth <= innerWidth`), "%s at %d px scrolls sideways", path, size.width)
		}
	}
	if folder := os.Getenv("HOTDAY_LOOK"); folder != "" {
		b.pictures(t, s, folder)
	}
	b.goTo(s.base + "/shops")
	b.eval(`document.querySelector('a[href="/s/quay/weekend"]').focus()`)
	b.eval(`new Promise((done) => setTimeout(done, 500))`)
	s.putState(t, models.SiteRecord{State: models.SiteState{Site: "moor", Plan: models.PlanNone, Troubles: []models.Trouble{{Kind: models.TroubleNoPlan}}}})
	b.says("Never planned.")
	assert.Equal(t, "/s/quay/weekend", b.eval(`document.activeElement.getAttribute("href")`), "the focus stays on its shop")
	assert.Equal(t, "The list has changed.", b.eval(`document.getElementById("shops-said").textContent`))
	s.cut.Store(true)
	b.until(`!document.getElementById("shops-lost").hidden`)
	s.cut.Store(false)
	b.until(`document.getElementById("shops-lost").hidden`)
}

// pictures writes what All shops looks like in each language, theme and size.
func (b *tab) pictures(t *testing.T, s *shop, folder string) {
	t.Helper()
	emulate := func(headers network.Headers, media []*emulation.MediaFeature) {
		_, err := chromedp.Run(b.ctx, func(ctx context.Context, target *chromedp.Target) (cdp.Empty, error) {
			if _, err := cdp.Call(ctx, target, network.SetExtraHTTPHeaders, network.SetExtraHTTPHeadersParams{Headers: headers}); err != nil {
				return cdp.Empty{}, err
			}
			return cdp.Call(ctx, target, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: media})
		})
		require.NoError(t, err)
	}
	defer emulate(network.Headers{}, nil)
	pages := map[string]string{"list": "/shops", "orders": "/shops/orders?from=2026-07-12&last=2026-07-13", "recall": "/shops/recall?lot=L7"}
	for _, language := range []string{"en", "de"} {
		for _, theme := range []string{"light", "dark"} {
			emulate(network.Headers{"Accept-Language": language}, []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}}) //nolint:misspell // CSS spells it so
			for _, size := range []struct{ width, height int64 }{{390, 844}, {1280, 800}, {1920, 1080}} {
				require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(size.width, size.height)))
				for name, path := range pages {
					b.goTo(s.base + path)
					picture, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
					require.NoError(t, err)
					require.NoError(t, os.WriteFile(filepath.Join(folder, fmt.Sprintf("%s-%s-%s-%d.png", name, language, theme, size.width)), picture, 0o600))
				}
			}
		}
	}
}
