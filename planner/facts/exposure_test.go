package facts_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
	"hotday/planner"
	"hotday/planner/facts"
	"hotday/planner/say"
	"hotday/planner/say/words"
)

// season is the kiosk's sales of glasses over the weeks before the Saturday, by the hour: 10 in each hour from 8 to 19, varying a
// little from day to day.
type season struct {
	t    testing.TB
	s    *store.Store
	days int
}

// hourly is the count of an hour of a past day; negative: no count.
func (x season) fill(hourly func(d models.Date, hour int) float64) {
	x.t.Helper()
	post := models.SalesPost{Source: "till"}
	for k := x.days; k >= 1; k-- {
		d := saturday.AddDays(-k)
		for h := 8; h < 19; h++ {
			if n := hourly(d, h); n >= 0 {
				post.Counts = append(post.Counts, models.SalesCount{Item: "GLASS", WindowStart: clock(d, h, 0), WindowEnd: clock(d, h+1, 0), Count: n})
			}
		}
	}
	_, err := x.s.PutCounts(ctx, kiosk, post, clock(saturday, 0, 30), "", "")
	require.NoError(x.t, err)
}

func usualHour(d models.Date, hour int) float64 {
	return float64(8 + (d.DaysUntil(saturday)*7+hour*3)%5)
}

// forecasts returns the means of the plan of some days by date and day part, after a nightly refit, and their basis.
func (x season) forecasts(days int) (mean map[string]float64, basis map[string]string) {
	x.t.Helper()
	return x.forecastsAt(clock(saturday, 6, 0), days)
}

func (x season) forecastsAt(now time.Time, days int) (mean map[string]float64, basis map[string]string) {
	x.t.Helper()
	refit(x.t, x.s, kiosk, now)
	r, err := facts.Gather(ctx, x.s, facts.GatherQuery{Site: kiosk, From: saturday, Days: days, Now: now})
	require.NoError(x.t, err)
	mean, basis = map[string]float64{}, map[string]string{}
	for _, f := range r.Forecast {
		require.NotContains(x.t, f.Basis, "no forecast yet")
		mean[string(f.Date)+" "+f.DayPart], basis[string(f.Date)+" "+f.DayPart] = f.Mean, f.Basis
	}
	return mean, basis
}

func seasonOf(t testing.TB, days int, change func(*models.Setup)) season {
	t.Helper()
	s, _ := shopOf(t, change)
	mapped(t, s, "GLASS", "glass", 1)
	return season{t, s, days}
}

func day(k int, part string) string { return string(saturday.AddDays(k)) + " " + part }

func TestASoldOutAfternoonIsNoSmallerDemand(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		gone func(d models.Date) bool // sold out from 16:30 on
		off  bool                     // and somebody said so
		want float64                  // of four hours
	}{
		"never":                 {func(models.Date) bool { return false }, true, 40},
		"every day, said":       {func(models.Date) bool { return true }, true, 40},
		"every other day, said": {func(d models.Date) bool { return d.DaysUntil(saturday)%2 == 0 }, true, 40},
		"every day, not said":   {func(models.Date) bool { return true }, false, 16},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			x := seasonOf(t, 100, nil)
			var off []models.OffSale
			x.fill(func(d models.Date, h int) float64 {
				n := usualHour(d, h)
				if d < saturday.AddDays(-60) || !c.gone(d) { // the curve of the day is known from the rest, or even
					return n
				}
				switch {
				case h == 16:
					return n / 2
				case h > 16:
					return 0
				}
				return n
			})
			for k := 1; c.off && k <= 60; k++ {
				if d := saturday.AddDays(-k); c.gone(d) {
					off = append(off, models.OffSale{Drink: "glass", From: clock(d, 16, 30), To: new(clock(d, 19, 0))})
				}
			}
			require.NoError(t, x.s.PutOffSale(ctx, kiosk, off))
			got, _ := x.forecasts(1)
			if name == "every day, said" { // nothing was seen of the late afternoon for weeks: only the even part tells of it
				require.Greater(t, got[day(0, "afternoon")], 16.0)
				return
			}
			require.InEpsilon(t, c.want, got[day(0, "afternoon")], .15)
		})
	}
}

func TestADayOfOtherHoursIsForecastByThem(t *testing.T) {
	t.Parallel()
	odd, past := saturday.AddDays(1), saturday.AddDays(-30)
	x := seasonOf(t, 90, func(u *models.Setup) {
		u.Site.Opening = slices.DeleteFunc(u.Site.Opening, func(o models.Opening) bool { return o.Weekday == "mon" })
		monday := saturday.AddDays(2)
		u.Site.Opening = append(u.Site.Opening, models.Opening{Date: &odd, From: "10:00", To: "17:00"}, models.Opening{Date: &monday, From: "08:00", To: "12:00"},
			models.Opening{Date: &past, From: "10:00", To: "17:00"})
	})
	x.fill(func(d models.Date, h int) float64 {
		switch {
		case d == past && (h < 10 || h >= 17), d.Weekday() == time.Monday && d != saturday.AddDays(-19):
			return -1
		}
		return usualHour(d, h)
	})
	got, basis := x.forecasts(3)
	require.InEpsilon(t, 40, got[day(0, "morning")], .1)
	require.InEpsilon(t, 20, got[day(1, "morning")], .1, "two of four hours")
	require.InEpsilon(t, 30, got[day(1, "midday")], .1)
	require.InEpsilon(t, 20, got[day(1, "afternoon")], .1)
	require.Contains(t, basis[day(1, "morning")], "other opening hours")
	require.NotContains(t, basis[day(0, "morning")], "opening hours")
	require.InEpsilon(t, 40, got[day(2, "morning")], .25, "closed on Mondays, but for this one")
	require.Contains(t, basis[day(2, "morning")], "1 Monday", "the one on which it sold all the same")
	require.NotContains(t, got, day(2, "midday"))
}

func TestAClosureWithinADayHidesOnlyItsTime(t *testing.T) {
	t.Parallel()
	x := seasonOf(t, 90, nil)
	var shut []models.Event
	for k := 3; k < 60; k += 2 {
		d := saturday.AddDays(-k)
		shut = append(shut, models.Event{From: clock(d, 10, 0), To: clock(d, 12, 0), Name: "water off", Closed: true, Factor: 1})
	}
	x.fill(func(d models.Date, h int) float64 {
		for _, e := range shut {
			if at := clock(d, h, 0); !at.Before(e.From) && at.Before(e.To) {
				return 0
			}
		}
		return usualHour(d, h)
	})
	require.NoError(t, x.s.PutEvents(ctx, kiosk, shut))
	got, _ := x.forecasts(1)
	require.InEpsilon(t, 40, got[day(0, "morning")], .15)
}

func TestHolidaysAndEventsOfThePastTellOfTheNext(t *testing.T) {
	t.Parallel()
	x := seasonOf(t, 120, nil)
	var events []models.Event
	on := map[models.Date]float64{}
	add := func(d models.Date, name, kind string, times, factor float64) {
		events = append(events, models.Event{From: clock(d, 0, 0), To: clock(d, 24, 0), Name: name, Kind: kind, Factor: factor})
		on[d] = times
	}
	for k := 6; k < 120; k += 12 {
		add(saturday.AddDays(-k), "a public holiday", models.HolidayKind, .5, 1)
	}
	for i, k := range []int{10, 40, 70, 100} {
		add(saturday.AddDays(-k), "Regatta "+[]string{"2023", "2024", "2025", "2026"}[i], "", 2, 1)
	}
	add(saturday.AddDays(-20), "Fair", "", 3, 3) // its factor is known
	add(saturday, "Assumption", models.HolidayKind, 1, 1)
	add(saturday.AddDays(1), "Regatta", "", 1, 1)
	add(saturday.AddDays(2), "Fair", "", 1, 3)
	add(saturday.AddDays(3), "Procession", "", 1, 1)
	x.fill(func(d models.Date, h int) float64 {
		if f, ok := on[d]; ok {
			return usualHour(d, h) * f
		}
		return usualHour(d, h)
	})
	require.NoError(t, x.s.PutEvents(ctx, kiosk, events))
	got, basis := x.forecasts(5)
	require.InEpsilon(t, 40, got[day(4, "morning")], .12)
	require.InEpsilon(t, 20, got[day(0, "morning")], .4, "drawn to none, they are few")
	require.Contains(t, basis[day(0, "morning")], "for the holiday")
	require.InEpsilon(t, 80, got[day(1, "morning")], .2)
	require.Contains(t, basis[day(1, "morning")], "for Regatta, from 4 past days")
	require.InEpsilon(t, 40, got[day(2, "morning")], .12, "the plan multiplies by the factor, the forecast does not")
	require.NotContains(t, basis[day(2, "morning")], "Fair")
	require.InEpsilon(t, 40, got[day(3, "morning")], .12)
	require.Contains(t, basis[day(3, "morning")], "Procession: new, so its effect is unknown")
}

// Corrected counts of months ago, changed hours and late weather observations all reach the next refit.
func TestLateDataReachesTheNextRefit(t *testing.T) {
	t.Parallel()
	x := seasonOf(t, 100, nil)
	x.fill(func(d models.Date, h int) float64 {
		if d < saturday.AddDays(-25) {
			return usualHour(d, h) // then the till counted each serving three times
		}
		return 3 * usualHour(d, h)
	})
	before, _ := x.forecasts(1)
	require.Greater(t, before[day(0, "morning")], 80.0)
	corrected := models.SalesPost{Source: "till"}
	for k := 1; k <= 25; k++ {
		for h := 8; h < 19; h++ {
			d := saturday.AddDays(-k)
			corrected.Counts = append(corrected.Counts, models.SalesCount{Item: "GLASS", WindowStart: clock(d, h, 0), WindowEnd: clock(d, h+1, 0), Count: usualHour(d, h)})
		}
	}
	_, err := x.s.PutCounts(ctx, kiosk, corrected, clock(saturday, 21, 0), "", "")
	require.NoError(t, err)
	night := clock(saturday.AddDays(1), 1, 0)
	state := refit(t, x.s, kiosk, night)
	require.NoError(t, x.s.PutForecastState(ctx, kiosk, models.ForecastState{MadeAt: state.MadeAt, Learnt: []byte("?"), Past: []byte("?"), Through: state.Through}))
	fresh, err := facts.Refit(ctx, x.s, kiosk, night)
	require.NoError(t, err)
	r := func(kept models.ForecastState) float64 {
		require.NoError(t, x.s.PutForecastState(ctx, kiosk, kept))
		got, err := facts.Gather(ctx, x.s, facts.GatherQuery{Site: kiosk, From: saturday.AddDays(1), Days: 1, Now: night})
		require.NoError(t, err)
		require.NotEmpty(t, got.Forecast)
		return got.Forecast[0].Mean
	}
	require.InEpsilon(t, 40, r(fresh), .12)
	require.InEpsilon(t, r(fresh), r(state), .05, "a night after the correction is as one that never knew the mistake")
}

func TestAMillionByMistakeIsShownAndDamped(t *testing.T) {
	t.Parallel()
	x := seasonOf(t, 60, nil)
	x.fill(usualHour)
	wrong := saturday.AddDays(-9)
	sold(t, x.s, "GLASS", clock(wrong, 9, 0), 60, 1e6)
	got, basis := x.forecasts(1)
	require.InEpsilon(t, 40, got[day(0, "morning")], .4)
	require.Contains(t, basis[day(0, "morning")], "1 count, on "+say.In(words.English).DayYear(wrong.At(720, time.UTC))+", is far above the rest, capped")
	require.NotContains(t, basis[day(0, "midday")], "far above the rest")
	sold(t, x.s, "GLASS", clock(saturday, 9, 0), 60, 1e6) // today, and again too much
	r := gather(t, x.s, clock(saturday, 13, 0))
	plan, err := planner.Compute(ctx, r)
	require.NoError(t, err)
	late := 0
	for _, d := range plan.Demand {
		if d.DayPart == "afternoon" && d.Drink == "glass" {
			late++
			require.Less(t, d.Mean, 80.0)
			require.Contains(t, d.Basis, "a count today is many times the forecast")
		}
	}
	require.Equal(t, 1, late)
	require.InDelta(t, 1e6, countedOn(t, x.s, wrong)["morning glass"], 100, "what was counted is kept")
}

func TestOddPastsOfASiteAreForecast(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		days   int
		hourly func(d models.Date, h int) float64
		lo, hi float64
	}{
		"gaps of weeks": {100, func(d models.Date, h int) float64 {
			if k := d.DaysUntil(saturday); k > 20 && k < 45 || k > 60 && k < 80 {
				return -1
			}
			return usualHour(d, h)
		}, 34, 46},
		"zeros and then some": {120, func(d models.Date, h int) float64 {
			if d == saturday.AddDays(-120) {
				return 1
			}
			return 0
		}, 0, 1},
		"one single day": {1, usualHour, 20, 80},
		"silent for three weeks": {80, func(d models.Date, h int) float64 {
			if d > saturday.AddDays(-21) {
				return -1
			}
			return usualHour(d, h)
		}, 30, 50},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			x := seasonOf(t, c.days, nil)
			x.fill(c.hourly)
			got, basis := x.forecasts(1)
			m, ok := got[day(0, "morning")]
			require.True(t, ok)
			require.GreaterOrEqual(t, m, c.lo, basis)
			require.LessOrEqual(t, m, c.hi, basis)
			require.NotEmpty(t, basis[day(0, "morning")])
		})
	}
}

// Tills post late, twice and out of order: the fitted state is the same.
func TestTheOrderOfPostsChangesNothing(t *testing.T) {
	t.Parallel()
	in, out := seasonOf(t, 70, nil), seasonOf(t, 70, nil)
	in.fill(usualHour)
	want, _ := in.forecasts(2)
	for _, k := range []int{3, 1, 2, 0, 1} { // days of one remainder at a time, some twice
		for n := 70 - k; n >= 1; n -= 4 {
			d := saturday.AddDays(n - 71)
			post := models.SalesPost{Source: "till"}
			for h := 18; h >= 8; h-- {
				post.Counts = append(post.Counts, models.SalesCount{Item: "GLASS", WindowStart: clock(d, h, 0), WindowEnd: clock(d, h+1, 0), Count: usualHour(d, h)})
			}
			_, err := out.s.PutCounts(ctx, kiosk, post, clock(saturday, 1, n%60), "", "")
			require.NoError(t, err)
		}
	}
	got, _ := out.forecasts(2)
	require.Equal(t, want, got)
}

func TestMissingOrUnprecedentedWeatherIsReported(t *testing.T) {
	t.Parallel()
	x := seasonOf(t, 150, nil)
	warmth := func(d models.Date) float64 { return 14 + float64(d.DaysUntil(saturday)*13%17) } // 14 to 30 °C
	x.fill(func(d models.Date, h int) float64 { return usualHour(d, h) + max(0, warmth(d)-20) })
	air := func(kind string, from, to int, temp func(models.Date) float64) {
		w := models.WeatherPost{Kind: kind, IssuedAt: clock(saturday.AddDays(from), 4, 0)}
		for k := from; k <= to; k++ {
			for h := range 24 {
				d := saturday.AddDays(k)
				w.Hours = append(w.Hours, models.WeatherHour{At: clock(d, h, 0), TempC: temp(d)})
			}
		}
		require.NoError(t, x.s.PutWeather(ctx, kiosk, w))
	}
	air("observed", -150, -1, warmth)
	none, basis := x.forecasts(1)
	require.Contains(t, basis[day(0, "midday")], "no weather forecast")
	air("forecast", 0, 2, func(d models.Date) float64 { return 29 + 4.5*float64(saturday.DaysUntil(d)) })
	got, basis := x.forecasts(3)
	require.Greater(t, got[day(0, "midday")], 1.15*none[day(0, "midday")])
	require.Contains(t, strings.ReplaceAll(basis[day(0, "midday")], "\u202f", " "), "for 29 °C")
	require.Greater(t, got[day(2, "midday")], got[day(0, "midday")], "38 °C, above all that was seen")
	require.Contains(t, strings.ReplaceAll(basis[day(2, "midday")], "\u202f", " "), "hotter than any day so far (30 °C)")
}
