package store_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
	"hotday/planner"
	"hotday/planner/sheet"
)

// A busy day of a busy shop: a new plan every half hour, each published.
const (
	busyPlans    = 24
	busyItems    = 30 // of the till, in quarter hours of 14 hours, three of five with a sale
	busyMarks    = 40
	busyWarnings = 6
	busyEvents   = 300
	yearLimit    = 300e6 // bytes
)

// busyShop writes days of a shop, with documents of the size that the planner makes of a real weekend.
type busyShop struct {
	t       *testing.T
	s       *store.Store
	site    string
	plan    models.Plan
	request models.PlanRequest
	sheets  []models.PrepSheet
	chance  *rand.Rand
}

func newBusyShop(t *testing.T, s *store.Store, site string) *busyShop {
	t.Helper()
	doc, err := os.ReadFile(filepath.Join("..", "..", "testdata", "requests", "weekend.json"))
	require.NoError(t, err)
	b := &busyShop{t: t, s: s, site: site, chance: rand.New(rand.NewPCG(1, 2))}
	require.NoError(t, models.DecodeStrict(doc, &b.request))
	b.plan, err = planner.ComputeWithoutFixes(ctx, b.request)
	require.NoError(t, err)
	b.sheets = sheet.PrepSheets(b.request, b.plan, nil, t0)
	b.open()
	return b
}

func (b *busyShop) open() {
	b.t.Helper()
	_, _, err := b.s.PutSetup(ctx, setupOf(b.site), "", t0)
	require.NoError(b.t, err)
	_, _, err = b.s.AddWebhook(ctx, models.Webhook{URL: "https://example.com", Site: b.site, Events: models.HookEvents}, t0)
	require.NoError(b.t, err)
}

// like opens another shop with the same documents.
func (b *busyShop) like(site string) *busyShop {
	b.t.Helper()
	other := *b
	other.site = site
	other.open()
	return &other
}

// day writes one day, in a transaction for each plan and what comes with it.
func (b *busyShop) day(n int) {
	start := t0.AddDate(0, 0, n).Truncate(24 * time.Hour)
	date := models.Date(start.Format(time.DateOnly))
	for i := range busyPlans {
		at := start.Add(7*time.Hour + time.Duration(i)*30*time.Minute)
		require.NoError(b.t, b.s.Within(ctx, func(tx models.Store) error {
			p := b.plan
			p.Digest = fmt.Sprint(n, " ", i)
			stored, _, err := tx.AddPlan(ctx, b.site, p, b.request, at)
			if err != nil {
				return err
			}
			var published []models.PrepSheet
			for d, of := range b.sheets[:min(2, len(b.sheets))] {
				of.Date, of.Revision, of.PublishedAt = date.AddDays(d), stored.Revision, at
				tasks := make([]models.Task, len(of.Tasks))
				for k, task := range of.Tasks {
					version := 0
					if k%10 == 0 {
						version = i // a tenth of the tasks is replaced by each plan
					}
					task.ID = fmt.Sprint(b.site, " ", of.Date, " ", k, " ", version)
					tasks[k] = task
				}
				of.Tasks = tasks
				published = append(published, of)
			}
			if err := tx.PutSheets(ctx, b.site, published); err != nil {
				return err
			}
			for m := range (busyMarks + busyPlans - 1) / busyPlans {
				mark := models.TaskMark{Task: published[0].Tasks[(2*i+m+1)%len(published[0].Tasks)].ID, State: models.Made, At: at, Key: fmt.Sprint(n, i, m)}
				if _, err := tx.AddMark(ctx, b.site, mark, at); err != nil {
					return err
				}
			}
			return b.rest(tx, at)
		}))
	}
}

// rest writes what happens in half an hour besides plans.
func (b *busyShop) rest(tx models.Store, at time.Time) error {
	post := models.SalesPost{Source: "till"}
	for q := range 2 {
		from := at.Add(time.Duration(q) * 15 * time.Minute)
		for item := range busyItems {
			if b.chance.IntN(5) < 3 {
				post.Counts = append(post.Counts, models.SalesCount{Item: fmt.Sprint("ITEM ", item), WindowStart: from, WindowEnd: from.Add(15 * time.Minute), Count: float64(1 + b.chance.IntN(6))})
			}
		}
	}
	if _, err := tx.PutCounts(ctx, b.site, post, at, fmt.Sprint(at), "hash"); err != nil {
		return err
	}
	if b.chance.IntN(busyPlans) < busyWarnings && len(b.plan.Warnings) > 0 {
		w := b.plan.Warnings[b.chance.IntN(len(b.plan.Warnings))]
		if _, err := tx.SyncWarnings(ctx, b.site, []string{w.Kind}, []models.OpenWarning{{Key: fmt.Sprint(at), Warning: w}}, at); err != nil {
			return err
		}
	}
	weather := models.WeatherPost{Kind: models.WeatherForecast, IssuedAt: at}
	for h := range 20 { // of a fetched forecast what is left after thinning
		weather.Hours = append(weather.Hours, models.WeatherHour{At: at.Truncate(time.Hour).Add(time.Duration(h) * time.Hour), TempC: 20 + 15*b.chance.Float64()})
	}
	if err := tx.PutWeather(ctx, b.site, weather); err != nil {
		return err
	}
	for range busyEvents / busyPlans {
		data, err := json.Marshal(map[string]any{"task": fmt.Sprint(at), "state": models.Made})
		if err != nil {
			return err
		}
		kind := "stock"
		if b.chance.IntN(6) == 0 {
			kind = "mark" // goes to the webhook too
		}
		if _, err := tx.AddEvent(ctx, models.LiveEvent{Site: b.site, Kind: kind, At: at, Data: data}); err != nil {
			return err
		}
	}
	return tx.AddStockCount(ctx, b.site, models.StockCount{CountedAt: at}, at)
}

// A year of a busy shop stays under 300 MB, tidied each night. With -short 20 days are written and plans are kept for
// 16 instead of 30; the year follows from that size, scaled, and from the growth of the last days, when plans and replaced sheets are
// already removed as fast as they come.
func TestAYearOfABusyShopStaysSmall(t *testing.T) {
	t.Parallel()
	days, week, chosen, scale := 365, 7, models.Keep{}, 1.0
	if testing.Short() {
		days, week, chosen, scale = 20, 3, models.Keep{models.KeepPlans: 16, models.KeepSheets: 16}, 30.0/16
	}
	s := openSQLite(t)
	b := newBusyShop(t, s, shop)
	keep, err := chosen.WithDefaults()
	require.NoError(t, err)
	var before int64
	for n := range days {
		b.day(n)
		night := t0.AddDate(0, 0, n+1)
		_, err := s.TidySite(ctx, shop, keep, night)
		require.NoError(t, err)
		_, err = s.TidyService(ctx, keep, night)
		require.NoError(t, err)
		if n == days-1-week {
			require.NoError(t, s.EmptyLog(ctx))
			before, _, err = s.FileSizes()
			require.NoError(t, err)
		}
	}
	_, log, err := s.FileSizes()
	require.NoError(t, err)
	require.NoError(t, s.EmptyLog(ctx))
	size, _, err := s.FileSizes()
	require.NoError(t, err)
	growth := float64(size-before) / float64(week)
	year := scale*float64(size) + growth*float64(365-days)
	t.Logf("%d days: %.1f MB and %.1f MB of log; %.2f MB a day at the end; a year: %.0f MB", days, float64(size)/1e6, float64(log)/1e6, growth/1e6, year/1e6)
	require.Less(t, year, yearLimit)

	// The first day can still be reviewed.
	first := models.Date(t0.Format(time.DateOnly))
	current, err := s.Sheet(ctx, shop, first)
	require.NoError(t, err)
	require.NotEmpty(t, current.Tasks)
	marks, err := s.Marks(ctx, shop, first, first.AddDays(1))
	require.NoError(t, err)
	require.NotEmpty(t, marks)
	counts, err := s.Counts(ctx, shop, models.SalesFilter{From: t0.Truncate(24 * time.Hour), To: t0.Truncate(24 * time.Hour).Add(24 * time.Hour)}, models.Page{Limit: 5000})
	require.NoError(t, err)
	require.Greater(t, len(counts.Rows), busyItems*20)
}

// Many busy shops in one file take as much as each alone, and are written, tidied and backed up one after the other. HOTDAY_SHOPS is how
// many; the times are logged.
func TestManyBusyShopsInOneFile(t *testing.T) {
	t.Parallel()
	shops := 5
	if n, err := strconv.Atoi(os.Getenv("HOTDAY_SHOPS")); err == nil {
		shops = n
	}
	file := filepath.Join(t.TempDir(), "shops.db")
	s, err := store.Open(ctx, file)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	first := newBusyShop(t, s, "shop-0")
	list := []*busyShop{first}
	for n := 1; n < shops; n++ {
		list = append(list, first.like(fmt.Sprint("shop-", n)))
	}
	keep, err := models.Keep{}.WithDefaults()
	require.NoError(t, err)
	var sizes []float64
	var wrote, tidied time.Duration
	for day := range 2 {
		began := time.Now()
		for _, b := range list {
			b.day(day)
		}
		wrote = time.Since(began)
		began = time.Now()
		for _, b := range list {
			_, err := s.TidySite(ctx, b.site, keep, t0.AddDate(0, 0, day+1))
			require.NoError(t, err)
		}
		_, err := s.TidyService(ctx, keep, t0.AddDate(0, 0, day+1))
		require.NoError(t, err)
		tidied = time.Since(began)
		size, _, err := s.FileSizes()
		require.NoError(t, err)
		sizes = append(sizes, float64(size)/float64(shops)/1e6)
	}
	began := time.Now()
	backup := filepath.Join(t.TempDir(), "all.backup")
	_, err = store.Backup(ctx, file, backup, "test", t0)
	require.NoError(t, err)
	packed, err := os.Stat(backup)
	require.NoError(t, err)
	t.Logf("%d shops: a day of all written in %v, tidied in %v; %.2f MB a shop after a day, %.2f after two; a backup of %.1f MB in %v",
		shops, wrote.Round(time.Millisecond), tidied.Round(time.Millisecond), sizes[0], sizes[1], float64(packed.Size())/1e6, time.Since(began).Round(time.Millisecond))
	require.Less(t, sizes[1], 8.0, "MB a shop after two busy days, before any is old enough to go")
	for _, b := range list {
		counts, err := s.Counts(ctx, b.site, models.SalesFilter{}, models.Page{Limit: 5000})
		require.NoError(t, err)
		require.Greater(t, len(counts.Rows), busyItems*40)
	}
}
