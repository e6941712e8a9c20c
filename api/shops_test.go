package api_test

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/facts"
)

// settle computes the states of all sites that have changed, as the jobs do.
func (b *bundle) settle() {
	b.t.Helper()
	ctx := context.Background()
	due := func(site models.Site, day models.Date) time.Time { return day.AddDays(-1).At(18*60, site.Location()) }
	for {
		list, err := b.store.StaleStates(ctx, b.clock.Now().Add(time.Second), 500)
		require.NoError(b.t, err)
		if len(list) == 0 {
			return
		}
		for _, x := range list {
			r, again, err := facts.SiteState(ctx, b.store, x.Site, b.clock.Now(), due)
			require.NoError(b.t, err)
			require.NoError(b.t, b.store.PutSiteState(ctx, x, r, again))
		}
	}
}

func setupDocument(t *testing.T, code string) (setup models.Setup) {
	t.Helper()
	doc, err := json.Marshal(shop(code))
	require.NoError(t, err)
	require.NoError(t, models.DecodeStrict(doc, &setup))
	return setup
}

type statePage = models.Rows[models.SiteState]

func codesOf(rows []models.SiteState) (out []string) {
	for _, r := range rows {
		out = append(out, r.Site)
	}
	return out
}

func (b *bundle) warn(site, grade string) {
	b.t.Helper()
	w := models.OpenWarning{Key: "x", Warning: models.Warning{Kind: models.WarnIceShort, Grade: grade, At: b.clock.Now().Add(time.Hour), Cause: "Ice runs out.", Fields: []string{}, Fixes: []models.Fix{}}}
	_, err := b.store.SyncWarnings(context.Background(), site, []string{models.WarnIceShort}, []models.OpenWarning{w}, b.clock.Now())
	require.NoError(b.t, err)
	_, err = b.store.AddEvent(context.Background(), models.LiveEvent{Site: site, Kind: "warning", At: b.clock.Now()})
	require.NoError(b.t, err)
}

// plan stores a plan of a site as it is, with a day of demand, and a batch.
func (b *bundle) plan(site string, from models.Date, days int, change func(*models.Plan)) {
	b.t.Helper()
	p := models.Plan{Digest: "d" + string(from), ComputedAt: b.clock.Now(), From: from, Days: days}
	for d := from; d < from.AddDays(days); d = d.AddDays(1) {
		p.Expected.Days = append(p.Expected.Days, models.ExpectedDay{Date: d, Demanded: 240})
	}
	if change != nil {
		change(&p)
	}
	_, _, err := b.store.AddPlan(context.Background(), site, p, models.PlanRequest{}, b.clock.Now())
	require.NoError(b.t, err)
	_, err = b.store.AddEvent(context.Background(), models.LiveEvent{Site: site, Kind: "plan", At: b.clock.Now()})
	require.NoError(b.t, err)
}

func (b *bundle) sheet(site string, date models.Date, tasks ...models.Task) {
	b.t.Helper()
	require.NoError(b.t, b.store.PutSheets(context.Background(), site, []models.PrepSheet{{Site: site, Date: date, Revision: 1, PublishedAt: b.clock.Now(), Tasks: tasks}}))
	_, err := b.store.AddEvent(context.Background(), models.LiveEvent{Site: site, Kind: "sheet", At: b.clock.Now()})
	require.NoError(b.t, err)
}

func TestShopsAreListedByTrouble(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.clock.advance(time.Date(2026, 7, 10, 17, 30, 0, 0, time.UTC).Sub(b.clock.Now())) // Friday 19:30 in Rome, after the time to publish
	var codes []string
	for i := range 60 {
		code := fmt.Sprintf("shop-%02d", i)
		codes = append(codes, code)
		_, _, err := b.store.PutSetup(t.Context(), setupDocument(t, code), "", b.clock.Now())
		require.NoError(t, err)
		hours := []models.WeatherHour{}
		for h := range 24 {
			hours = append(hours, models.WeatherHour{At: time.Date(2026, 7, 10, 22+h, 0, 0, 0, time.UTC), TempC: 20 + float64(h%16)})
		}
		require.NoError(t, b.store.PutWeather(t.Context(), code, models.WeatherPost{Kind: models.WeatherForecast, IssuedAt: b.clock.Now(), Hours: hours}))
		switch i % 6 {
		case 0: // all is well
		case 1:
			b.warn(code, models.GradeActNow)
		case 2:
			b.warn(code, models.GradeActToday)
		case 3:
			continue // no plan and no sheet
		case 4:
			b.sheet(code, "2026-07-10", models.Task{ID: code + "-a", At: b.clock.Now().Add(-2 * time.Hour), Kind: models.TaskIceCheck, Station: "Cuber", Say: "Ice?"},
				models.Task{ID: code + "-b", At: b.clock.Now().Add(-3 * time.Hour), Kind: models.TaskIceCheck, Station: "Cuber", Say: "Ice?"})
			_, err := b.store.AddMark(t.Context(), code, models.TaskMark{Task: code + "-b", Key: "k", State: models.Made, At: b.clock.Now()}, b.clock.Now())
			require.NoError(t, err)
		case 5:
			b.warn(code, models.GradeNote)
		}
		b.plan(code, "2026-07-10", 2, nil)
		b.sheet(code, "2026-07-11")
	}
	b.settle()
	b.put("/v1/groups/north", groupOf("North", codes[:12]...)).is(201)
	b.put("/v1/groups/south", groupOf("South", codes[12:24]...)).is(201)

	var all statePage
	etag := b.get("/v1/site-states").is(200).into(&all)
	require.Len(t, all.Rows, 60)
	kinds := func(rows []models.SiteState) (out []string) {
		for _, r := range rows {
			kind := ""
			if len(r.Troubles) > 0 {
				kind = r.Troubles[0].Kind
			}
			if len(out) == 0 || out[len(out)-1] != kind {
				out = append(out, kind)
			}
		}
		return out
	}
	require.Equal(t, []string{models.TroubleActNow, models.TroubleNotPublished, models.TroubleActToday, models.TroubleNotFollowed, models.TroubleNote, ""}, kinds(all.Rows))
	_ = etag
	at := func(code string) models.SiteState {
		return all.Rows[slices.IndexFunc(all.Rows, func(r models.SiteState) bool { return r.Site == code })]
	}
	well := at("shop-00")
	require.Equal(t, models.PlanMade, well.Plan)
	require.NotNil(t, well.Published)
	require.InDelta(t, 240, *well.Drinks, 0)
	require.InDelta(t, 35, *well.HighC, 0)
	require.Equal(t, models.Date("2026-07-11"), well.NextDay)
	require.Empty(t, well.Troubles)
	late := at("shop-03")
	require.Equal(t, models.PlanNone, late.Plan)
	require.Equal(t, "2026-07-10T16:00:00Z", late.PublishDue.UTC().Format(time.RFC3339))
	require.Nil(t, late.Published)
	followed := at("shop-04")
	require.Equal(t, []int{2, 1, 1}, []int{followed.TasksDue, followed.TasksDone, followed.Troubles[0].N})
	require.Equal(t, "Ice runs out.", at("shop-01").Warning.Cause)

	// Pages by key have each shop once, in the same order, whatever changes ahead of them.
	var paged []string
	for path := "/v1/site-states?limit=7"; ; {
		var page statePage
		b.get(path).is(200).into(&page)
		paged = append(paged, codesOf(page.Rows)...)
		if page.Next == nil {
			break
		}
		path = "/v1/site-states?limit=7&cursor=" + *page.Next
	}
	require.Equal(t, codesOf(all.Rows), paged)

	// Filter, search, and an unchanged answer.
	var some statePage
	b.get("/v1/site-states?group=north").is(200).into(&some)
	require.ElementsMatch(t, codes[:12], codesOf(some.Rows))
	b.get("/v1/site-states?search=SHOP-1").is(200).into(&some)
	require.Len(t, some.Rows, 10)
	b.get("/v1/site-states?search=shop%25").is(200).into(&some)
	require.Empty(t, some.Rows, "% is no wildcard")
	require.Contains(t, string(b.get("/v1/site-states?group=west").is(422).body), `"/group"`)
	b.get("/v1/site-states?cursor=x").is(422)
	tag := b.get("/v1/site-states").is(200).header.Get("ETag")
	b.do(call{method: "GET", path: "/v1/site-states", header: map[string]string{"If-None-Match": tag}}).is(304)

	// Rights.
	region, one := b.groupToken([]string{"north"}, models.ScopeRead), b.newToken("shop-40", models.ScopeRead)
	b.as(region, "GET", "/v1/site-states", nil).is(200).into(&some)
	require.ElementsMatch(t, codes[:12], codesOf(some.Rows))
	b.as(region, "GET", "/v1/site-states?group=south", nil).is(422)
	b.as(one, "GET", "/v1/site-states", nil).is(200).into(&some)
	require.Equal(t, []string{"shop-40"}, codesOf(some.Rows))
	b.as(one, "GET", "/v1/site-states?group=north", nil).is(422)
	b.as(b.newToken("", models.ScopeSales), "GET", "/v1/site-states", nil).is(403)

	// A change moves a shop; a deleted one leaves.
	b.warn("shop-00", models.GradeActNow)
	b.settle()
	b.do(call{method: "GET", path: "/v1/site-states", header: map[string]string{"If-None-Match": tag}}).is(200).into(&all)
	require.Equal(t, "shop-00", all.Rows[0].Site)
	b.do(call{method: "DELETE", path: "/v1/sites/shop-00?confirm=shop-00"}).is(204)
	b.get("/v1/site-states").is(200).into(&all)
	require.Len(t, all.Rows, 59)
}

func TestOrdersOfManyShops(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.clock.advance(time.Date(2026, 7, 10, 9, 0, 0, 0, time.UTC).Sub(b.clock.Now()))
	for _, site := range []string{"quay", "pier", "moor"} {
		b.setUp(site)
	}
	by := time.Date(2026, 7, 10, 12, 0, 0, 0, time.UTC)
	need := func(dose, milk float64) func(*models.Plan) {
		return func(p *models.Plan) {
			p.Batches = []models.BatchTask{{ID: "b", Date: "2026-07-11", Beverage: "flash", DoseG: dose}}
			p.Supplies = []models.SupplyNeed{{Date: "2026-07-11", Name: "milk", Unit: "ml", Amount: milk, Short: 500, OrderBy: &by, Allergens: []string{}}}
			p.Warnings = []models.Warning{{Kind: models.WarnIceShort, Grade: models.GradeActToday, At: time.Date(2026, 7, 11, 12, 0, 0, 0, time.UTC), Amount: 4, Unit: "kg", ChancePct: 50}}
		}
	}
	b.plan("quay", "2026-07-10", 2, need(465, 2000))
	b.plan("pier", "2026-07-10", 2, need(300, 1000))
	b.settle()
	var o models.Orders
	b.get("/v1/orders?from=2026-07-10&to=2026-07-12").is(200).into(&o)
	totals := map[string]string{}
	for _, x := range o.Totals {
		totals[x.Kind] = fmt.Sprint(x.Amount, x.Unit, " short ", x.Short, " in ", x.Shops)
	}
	require.Equal(t, map[string]string{"beans": "765g short 0 in 2", "supply": "3000ml short 1000 in 2", "ice": "8000g short 8000 in 2"}, totals)
	require.Len(t, o.Rows, 6)
	require.Len(t, o.Missing, 1, "a shop without a plan is never taken for one that needs nothing")
	require.Equal(t, "moor", o.Missing[0].Site)
	b.get("/v1/orders?from=2026-07-10&to=2026-07-14").is(200).into(&o)
	require.Len(t, o.Missing, 3)
	text := string(b.get("/v1/orders?from=2026-07-10&to=2026-07-12&as=csv").is(200).body)
	require.Contains(t, text, "quay,")
	require.Contains(t, text, "supply,milk,ml,2000.0,500.0,2026-07-10T12:00:00Z,")
	require.Contains(t, text, "not_planned")
	b.get("/v1/orders?from=2026-07-10&to=2026-08-10").is(422)
	b.as(b.newToken("quay", models.ScopeRead), "GET", "/v1/orders?from=2026-07-10&to=2026-07-12", nil).is(200).into(&o)
	require.Len(t, o.Rows, 3, "of the token's site alone")
}

func TestRecallNeverTakesTheUnknownForSafe(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	now := time.Date(2026, 7, 10, 12, 0, 0, 0, time.UTC)
	b.clock.advance(now.Sub(b.clock.Now()))
	for _, site := range []string{"made", "unmarked", "skipped", "later", "other", "haslot"} {
		setup := setupDocument(t, site)
		if site != "haslot" {
			setup.Coffees[0].Lots = nil
		} else {
			setup.Coffees[0].Lots = []models.BeanLot{{Code: "L7", RoastedOn: "2026-07-01", Grams: 1000, Place: "shelf"}}
		}
		_, _, err := b.store.PutSetup(t.Context(), setup, "", now)
		require.NoError(t, err)
	}
	brew := func(site, lot string, at, useBy time.Time) {
		b.sheet(site, "2026-07-10", models.Task{ID: site + "-1", At: at, Kind: models.TaskBrew, Station: "Left", Say: "Brew", Beverage: "flash",
			Lots: []models.LotUse{{Lot: lot, G: 465}}, Batch: &models.BatchTask{ID: site + "-b", Date: "2026-07-10", Beverage: "flash", UseBy: useBy, Lots: []models.LotUse{{Lot: lot, G: 465}}, CoffeeLot: lot}})
	}
	mark := func(site, state string) {
		_, err := b.store.AddMark(t.Context(), site, models.TaskMark{Task: site + "-1", Key: "k", State: state, At: now.Add(-time.Hour)}, now)
		require.NoError(t, err)
	}
	brew("made", "L7", now.Add(-2*time.Hour), now.Add(-30*time.Minute))
	mark("made", models.Made)
	brew("unmarked", "L7", now.Add(-2*time.Hour), now.Add(-time.Hour))
	brew("skipped", "L7", now.Add(-2*time.Hour), now.Add(time.Hour))
	mark("skipped", models.Skipped)
	brew("later", "L7", now.Add(2*time.Hour), now.Add(20*time.Hour))
	brew("other", "L70", now.Add(-2*time.Hour), now.Add(time.Hour))
	b.settle()
	var r models.LotRecall
	b.get("/v1/recalls?lot=L7").is(200).into(&r)
	got := map[string]string{}
	for _, x := range r.Rows {
		got[x.Site] = fmt.Sprint(x.Status, " ", x.Reason, " ", x.WithinHold)
	}
	require.Equal(t, map[string]string{
		"made":     "used made true", // begun an hour late, so its time is over an hour later than planned
		"unmarked": "may_have_used no_mark false", "skipped": "not_used skipped false", "later": "planned planned true", "haslot": "may_have_used has_lot true",
	}, got, "L70 is another lot")
	require.Equal(t, "made", r.Rows[0].Site, "what is used and may still be served comes first")
	require.Equal(t, "skipped", r.Rows[len(r.Rows)-1].Site)

	// A shop that has not been looked at may have it.
	setup := setupDocument(t, "new")
	_, _, err := b.store.PutSetup(t.Context(), setup, "", now)
	require.NoError(t, err)
	require.Contains(t, string(b.get("/v1/recalls?lot=L7").is(200).body), `"site":"new","name":"new","status":"may_have_used","reason":"unknown"`)
	text := string(b.get("/v1/recalls?lot=L7&as=csv").is(200).body)
	require.True(t, strings.HasPrefix(text, "site,name,status,reason,"))
	require.Contains(t, text, "unmarked,")
	b.get("/v1/recalls").is(422)
	require.NotContains(t, string(b.as(b.newToken("made", models.ScopeRead), "GET", "/v1/recalls?lot=L7", nil).is(200).body), "unmarked")
}
