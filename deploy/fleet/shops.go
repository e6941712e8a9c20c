package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"time"

	"hotday/deploy/demo"
	"hotday/models"
	"hotday/models/store"
)

// firstNight is the UTC midnight with which the measured day begins.
var firstNight = time.Date(2026, 7, 9, 0, 0, 0, 0, time.UTC)

// zones are where the shops are, as many in each; more where more people live.
var zones = []string{"Pacific/Honolulu", "America/Los_Angeles", "America/Denver", "America/Chicago", "America/New_York", "America/Sao_Paulo",
	"Atlantic/Azores", "Europe/London", "Europe/Berlin", "Europe/Rome", "Africa/Cairo", "Europe/Istanbul", "Asia/Dubai", "Asia/Karachi",
	"Asia/Kolkata", "Asia/Dhaka", "Asia/Bangkok", "Asia/Singapore", "Asia/Tokyo", "Asia/Seoul", "Australia/Sydney", "Pacific/Auckland"}

// fleet is all the shops.
type fleet struct {
	options
	shops []shop
	fresh []shop // those whose night has not passed yet, in a database that was kept
}

// shop is one of them.
type shop struct {
	code  string
	zone  string
	scale float64 // of its sales, relative to the demo's shop
}

func newFleet(o options) *fleet {
	f := &fleet{options: o}
	for n := range o.shops {
		r := rand.New(rand.NewPCG(o.seed, uint64(n)))
		f.shops = append(f.shops, shop{code: fmt.Sprintf("shop-%05d", n+1), zone: zones[n%len(zones)], scale: math.Exp(0.4 * r.NormFloat64())})
	}
	return f
}

// tonight are n of the shops whose night has not passed yet, evenly over them.
func (f *fleet) tonight(n int) (out []shop) {
	n = min(n, len(f.fresh))
	for k := range n {
		out = append(out, f.fresh[k*len(f.fresh)/n])
	}
	return out
}

// findFresh finds the shops that have no plan yet.
func (f *fleet) findFresh(ctx context.Context, st *store.Store) error {
	f.fresh = nil
	for _, x := range f.shops {
		plans, err := st.Plans(ctx, x.code, models.Page{Limit: 1})
		if err != nil {
			return err
		}
		if len(plans.Rows) == 0 {
			f.fresh = append(f.fresh, x)
		}
	}
	if len(f.fresh) == 0 {
		return errors.New("the night of every shop has passed: begin a new database")
	}
	return nil
}

// make stores the shops that are not there yet.
func (f *fleet) make(ctx context.Context, st *store.Store, w io.Writer) error {
	there := map[string]bool{}
	codes, err := st.Sites(ctx)
	if err != nil {
		return err
	}
	for _, code := range codes {
		there[code] = true
	}
	began, used, rows, made := time.Now(), processTime(), 0, 0
	for i := range f.shops {
		if there[f.shops[i].code] {
			continue
		}
		n, err := f.store(ctx, st, &f.shops[i], i)
		if err != nil {
			return fmt.Errorf("%s: %w", f.shops[i].code, err)
		}
		rows, made = rows+n, made+1
	}
	if err := f.findFresh(ctx, st); err != nil {
		return err
	}
	size, _, err := st.FileSizes()
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "%d shops, %d of them made now with %d counts each, in %s (%s of processor time); the database has %.2f MB a shop\n", len(f.shops), made,
		rows/max(1, made), time.Since(began).Round(time.Second), (processTime() - used).Round(time.Second), float64(size)/1e6/float64(len(f.shops)))
	return nil
}

// store stores a shop as the service would after a year, by the same documents.
func (f *fleet) store(ctx context.Context, st *store.Store, x *shop, n int) (rows int, err error) {
	story, err := demo.At(firstNight)
	if err != nil {
		return 0, err
	}
	set := story.Setup
	set.Site.Code, set.Site.Timezone, set.Site.Name = x.code, x.zone, fmt.Sprintf("Shop %d on the quay", n+1)
	if err := set.Validate(); err != nil {
		return 0, err
	}
	story.Setup = set
	from := firstNight.AddDate(0, 0, -f.days)
	err = st.Within(ctx, func(tx models.Store) error {
		if _, _, err := tx.PutSetup(ctx, set, "", from); err != nil {
			return err
		}
		if err := tx.PutMappings(ctx, x.code, demo.Mappings()); err != nil {
			return err
		}
		for _, p := range []models.WeatherPost{story.ObservedFrom(from), story.Forecast()} {
			if err := tx.PutWeather(ctx, x.code, p); err != nil {
				return err
			}
		}
		for _, at := range []time.Time{firstNight.Add(-30 * time.Hour), firstNight.Add(-2 * time.Hour)} {
			count := story.StockCount()
			count.CountedAt = at
			if err := tx.AddStockCount(ctx, x.code, count, at); err != nil {
				return err
			}
		}
		rows, err = f.storeCounts(ctx, tx, x, uint64(n), &story, from)
		return err
	})
	return rows, err
}

func (f *fleet) storeCounts(ctx context.Context, tx models.Store, x *shop, n uint64, story *demo.Story, from time.Time) (rows int, err error) {
	var post models.SalesPost
	flush := func() error {
		if len(post.Counts) == 0 {
			return nil
		}
		_, err := tx.PutCounts(ctx, x.code, post, post.Counts[len(post.Counts)-1].WindowEnd, "", "")
		rows += len(post.Counts)
		post.Counts = nil
		return err
	}
	post.Source = demo.Source
	r := rand.New(rand.NewPCG(f.seed, 1<<32|n))
	for c := range story.CountsBetween(from, firstNight.Add(84*time.Hour)) {
		c.Count = math.Round(c.Count*x.scale + r.Float64() - 0.5)
		if c.Count <= 0 {
			continue
		}
		if post.Counts = append(post.Counts, c); len(post.Counts) == models.MaxSalesRows {
			if err := flush(); err != nil {
				return rows, err
			}
		}
	}
	return rows, flush()
}
