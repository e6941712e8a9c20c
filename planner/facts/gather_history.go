package facts

import (
	"context"
	"fmt"
	"time"

	"hotday/models"
)

// GatherHistory reads the set-up of a site and its days from the first count to the last service day that is over at now, from one
// consistent state of the store. Days is empty if there is no such day.
func GatherHistory(ctx context.Context, store models.Store, site string, now time.Time) (models.Setup, []models.PastDay, error) {
	var setup models.Setup
	var days []models.PastDay
	err := store.Read(ctx, func(st models.Store) (err error) {
		if setup, _, err = st.Setup(ctx, site); err != nil {
			return err
		}
		oldest, err := st.Counts(ctx, site, models.SalesFilter{}, models.Page{Limit: 1})
		if err != nil || len(oldest.Rows) == 0 {
			return err
		}
		g := &gathering{ctx: ctx, st: st, q: GatherQuery{Site: site, Now: now}, r: &models.PlanRequest{Setup: setup}, today: setup.Site.ServiceDayOf(now)}
		first := setup.Site.ServiceDayOf(oldest.Rows[0].WindowStart)
		if g.events, err = st.Events(ctx, site, first.At(0, setup.Site.Location()), now); err != nil {
			return err
		}
		mapped, err := g.mappedDrinks()
		if err != nil {
			return err
		}
		off, err := g.offSaleIn(first.At(0, setup.Site.Location()), now)
		if err != nil {
			return err
		}
		for d := first; d < g.today; d = d.AddDays(1) {
			day, err := g.pastDay(d, mapped, off)
			if err != nil {
				return err
			}
			days = append(days, day)
		}
		return nil
	})
	if err != nil {
		return setup, nil, fmt.Errorf("read the past of %s: %w", site, err)
	}
	return setup, days, nil
}

func (g *gathering) pastDay(d models.Date, mapped map[string]bool, off []models.OffSale) (models.PastDay, error) {
	site := &g.r.Site
	out := models.PastDay{Date: d}
	out.HolidayName, out.Holiday = g.holiday(d, g.events)
	got, err := g.day(d, site.DayEnd(d))
	if err != nil {
		return out, err
	}
	out.Closed = got.last.IsZero() || len(site.OpenSpans(d)) == 0
	for _, p := range site.DayParts {
		span := site.DayPartSpan(d, p)
		if !models.Touches(site.OpenSpans(d), span) {
			continue
		}
		_, whole := g.eventFactor(d, span) // not where a closure cut into it
		for _, x := range g.r.Drinks {
			if mapped[x.Code] {
				out.Counts = append(out.Counts, models.PastCount{DayPart: p.Code, Drink: x.Code, Servings: got.counts[partDrink{p.Code, x.Code}],
					OffSale: !whole || offSale(off, x.Code, span)})
			}
		}
	}
	if out.Observed, err = g.hours(d, 1, time.Time{}, models.WeatherObserved); err != nil {
		return out, err
	}
	evening := d.AddDays(-1).At(18*60, site.Location())
	if spans := site.OpenSpans(d.AddDays(-1)); len(spans) > 0 {
		evening = spans[len(spans)-1].To
	}
	out.Forecast, err = g.hours(d, 2, evening, models.WeatherForecast)
	return out, err
}

// hours returns the weather of n days from d of one kind, as known at an instant (zero: now).
func (g *gathering) hours(d models.Date, n int, known time.Time, kind string) ([]models.WeatherHour, error) {
	loc := g.r.Site.Location()
	list, err := g.st.Weather(g.ctx, g.q.Site, d.At(0, loc), d.AddDays(n).At(0, loc), known)
	var out []models.WeatherHour
	for i := range list {
		if list[i].Kind == kind {
			out = append(out, list[i].WeatherHour)
		}
	}
	return out, err
}
