package facts_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"

	"hotday/planner/facts"
)

// The kiosk opens from 08:00 to 19:00: morning until 12:00, midday until 15:00, afternoon.

func countedOn(t testing.TB, s models.Store, d models.Date) map[string]float64 {
	t.Helper()
	got, err := facts.CountedOn(ctx, s, kiosk, d, clock(d.AddDays(30), 12, 0))
	require.NoError(t, err)
	return got
}

func same(t testing.TB, want, got map[string]float64, why ...any) {
	t.Helper()
	require.Len(t, got, len(want), "%v %v", got, why)
	for k, n := range want {
		require.InDelta(t, n, got[k], 1e-9, "%s of %v %v", k, got, why)
	}
}

// kioskOf is the kiosk with the items GLASS and TONIC mapped to the drinks of these names.
func kioskOf(t testing.TB, change func(*models.Setup)) *store.Store {
	t.Helper()
	s, _ := shopOf(t, change)
	mapped(t, s, "GLASS", "glass", 1)
	mapped(t, s, "TONIC", "tonic", 1)
	return s
}

func TestAWindowAcrossPartsIsSplitAsTheSiteSells(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)
	// 40 servings between 11:00 and 12:00 and 120 in the hour after, by the quarter; the tonic was counted once for both hours.
	for q := range 4 {
		sold(t, s, "GLASS", clock(saturday, 11, 15*q), 15, 10)
		sold(t, s, "GLASS", clock(saturday, 12, 15*q), 15, 30)
	}
	sold(t, s, "TONIC", clock(saturday, 11, 0), 120, 16)
	same(t, map[string]float64{"morning glass": 40, "midday glass": 120, "morning tonic": 4, "midday tonic": 12}, countedOn(t, s, saturday))

	sold(t, s, "TONIC", clock(saturday.AddDays(1), 11, 0), 120, 16) // Sundays have no curve of their own: that of all days
	same(t, map[string]float64{"morning tonic": 4, "midday tonic": 12}, countedOn(t, s, saturday.AddDays(1)))

	sold(t, s, "TONIC", clock(saturday.AddDays(-7), 14, 0), 120, 16) // nothing was ever counted then: by minutes
	same(t, map[string]float64{"midday tonic": 8, "afternoon tonic": 8}, countedOn(t, s, saturday.AddDays(-7)))
}

func TestEachWeekdayHasItsCurve(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)
	sunday := saturday.AddDays(1)
	sold(t, s, "GLASS", clock(saturday, 11, 0), 60, 60)
	sold(t, s, "GLASS", clock(saturday, 12, 0), 60, 20)
	sold(t, s, "GLASS", clock(sunday, 11, 0), 60, 20)
	sold(t, s, "GLASS", clock(sunday, 12, 0), 60, 60)
	for _, d := range []models.Date{saturday, sunday} {
		sold(t, s, "TONIC", clock(d, 11, 0), 120, 8)
	}
	require.InDelta(t, 6, countedOn(t, s, saturday)["morning tonic"], 1e-9)
	require.InDelta(t, 2, countedOn(t, s, sunday)["morning tonic"], 1e-9)
	// Monday: both together sell the same before and after noon.
	sold(t, s, "TONIC", clock(sunday.AddDays(1), 11, 0), 120, 8)
	require.InDelta(t, 4, countedOn(t, s, sunday.AddDays(1))["morning tonic"], 1e-9)
}

func TestTheCurveOfAllDaysIsThatOfOneOfThem(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)
	friday := saturday.AddDays(-1)
	sold(t, s, "GLASS", clock(saturday, 11, 0), 60, 60)
	sold(t, s, "GLASS", clock(saturday.AddDays(1), 11, 0), 60, 20)
	// Friday, of which nothing is known, is a day like the mean of the two, 40; Saturday has 60 of its own.
	sold(t, s, "TONIC", clock(friday, 11, 0), 25*60, 100)
	same(t, map[string]float64{"morning tonic": 40}, countedOn(t, s, friday))
	require.InDelta(t, 60, countedOn(t, s, saturday)["morning tonic"], 1e-9)
}

func TestTheCurveLeavesOutATimeOffSale(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)
	for h, n := range []float64{20, 30, 50} {
		sold(t, s, "GLASS", clock(saturday, 11+h, 0), 60, n)
	}
	sold(t, s, "TONIC", clock(saturday, 11, 0), 180, 10)
	require.NoError(t, s.PutOffSale(ctx, kiosk, []models.OffSale{{Drink: "tonic", From: clock(saturday, 13, 0), To: new(clock(saturday, 14, 0))}}))
	got := countedOn(t, s, saturday)
	require.InDelta(t, 4, got["morning tonic"], 1e-9, "20 of the 50 that the site sells from eleven to one")
	require.InDelta(t, 6, got["midday tonic"], 1e-9)
}

func TestTooFewCountsMakeNoCurve(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)
	sold(t, s, "GLASS", clock(saturday, 11, 0), 15, 49)
	sold(t, s, "TONIC", clock(saturday, 11, 0), 120, 16)
	require.InDelta(t, 8, countedOn(t, s, saturday)["morning tonic"], 1e-9, "49 servings: evenly")
	sold(t, s, "GLASS", clock(saturday, 11, 15), 15, 1)
	require.InDelta(t, 16, countedOn(t, s, saturday)["morning tonic"], 1e-9, "50, all of them before noon")
	sold(t, s, "GLASS", clock(saturday, 12, 0), 75, 5000) // too long to tell
	require.InDelta(t, 16, countedOn(t, s, saturday)["morning tonic"], 1e-9)
}

func TestAWholeDaysCountFallsInItsOpenTime(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)
	sold(t, s, "GLASS", clock(saturday, 0, 0), 24*60, 110) // 11 hours open
	same(t, map[string]float64{"morning glass": 40, "midday glass": 30, "afternoon glass": 40}, countedOn(t, s, saturday))
	require.NoError(t, s.PutEvents(ctx, kiosk, []models.Event{{From: clock(saturday, 10, 0), To: clock(saturday, 17, 30), Name: "power cut", Closed: true, Factor: 1}}))
	same(t, map[string]float64{"morning glass": 110 * 2 / 3.5, "afternoon glass": 110 * 1.5 / 3.5}, countedOn(t, s, saturday), "closed for most of the day")
}

func TestSalesAreNotPutIntoATimeOffSale(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)
	sold(t, s, "GLASS", clock(saturday, 10, 0), 240, 12)
	sold(t, s, "TONIC", clock(saturday, 10, 0), 240, 12)
	require.NoError(t, s.PutOffSale(ctx, kiosk, []models.OffSale{{Drink: "glass", From: clock(saturday, 13, 0), To: new(clock(saturday, 18, 0))}}))
	same(t, map[string]float64{"morning glass": 8, "midday glass": 4, "morning tonic": 6, "midday tonic": 6}, countedOn(t, s, saturday), "two hours and one; two and two")
	require.NoError(t, s.PutOffSale(ctx, kiosk, []models.OffSale{{Drink: "glass", From: clock(saturday, 9, 0), To: new(clock(saturday, 18, 0))}}))
	require.InDelta(t, 6, countedOn(t, s, saturday)["morning glass"], 1e-9, "said off sale and sold all the same: evenly")
}

func TestATillsClockMayBeAFewMinutesOff(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)
	day := saturday
	for name, c := range map[string]struct {
		hour, minute, long int
		want               map[string]float64
	}{
		"a quarter five minutes early":            {11, 55, 15, map[string]float64{"midday glass": 30}},
		"seven minutes early":                     {11, 53, 15, map[string]float64{"midday glass": 30}},
		"seven minutes late":                      {11, 52, 15, map[string]float64{"morning glass": 30}},
		"an hour seven minutes late":              {11, 7, 60, map[string]float64{"morning glass": 30}},
		"an hour eight minutes late is split":     {11, 8, 60, map[string]float64{"morning glass": 26, "midday glass": 4}},
		"half and half is split":                  {11, 55, 10, map[string]float64{"morning glass": 15, "midday glass": 15}},
		"over both edges of midday":               {11, 54, 192, map[string]float64{"midday glass": 30}},
		"begun before the shop opened":            {7, 53, 15, map[string]float64{"morning glass": 30}},
		"counted when the shop was not yet open":  {7, 38, 15, map[string]float64{"morning glass": 30}},
		"counted just after it closed":            {19, 0, 15, map[string]float64{"afternoon glass": 30}},
		"seven minutes after it closed":           {19, 7, 15, map[string]float64{"afternoon glass": 30}},
		"long after it closed, outside all parts": {19, 8, 15, map[string]float64{}},
	} {
		day = day.AddDays(-100) // so far apart that none makes a curve for another
		sold(t, s, "GLASS", clock(day, c.hour, c.minute), c.long, 30)
		same(t, c.want, countedOn(t, s, day), name)
	}
}

func TestOddOpeningHours(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, func(u *models.Setup) {
		u.Site.Opening = []models.Opening{{Weekday: "sat", From: "08:00", To: "11:00"}, {Weekday: "sat", From: "14:00", To: "19:00"}}
	})
	sold(t, s, "GLASS", clock(saturday, 0, 0), 24*60, 80)
	same(t, map[string]float64{"morning glass": 30, "midday glass": 10, "afternoon glass": 40}, countedOn(t, s, saturday), "three, one and four hours")
	sold(t, s, "TONIC", clock(saturday, 12, 0), 15, 5)
	require.InDelta(t, 5, countedOn(t, s, saturday)["midday tonic"], 1e-9, "in the break, and sold all the same")
	sunday := saturday.AddDays(1) // closed by the set-up, and yet open once
	sold(t, s, "GLASS", clock(sunday, 10, 0), 15, 3)
	sold(t, s, "TONIC", clock(sunday, 0, 0), 24*60, 110)
	same(t, map[string]float64{"morning glass": 3, "morning tonic": 40, "midday tonic": 30, "afternoon tonic": 40}, countedOn(t, s, sunday))
}

func TestDaysOf23And25Hours(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, func(u *models.Setup) {
		u.Site.Opening = []models.Opening{{Weekday: "sun", From: "00:00", To: "06:00"}}
		u.Site.DayParts = []models.DayPart{{Code: "late", From: "00:00", To: "03:00"}, {Code: "early", From: "03:00", To: "06:00"}}
	})
	for date, c := range map[models.Date]struct {
		hours       int
		late, early float64
	}{"2026-03-29": {23, 2, 3}, "2026-10-25": {25, 4, 3}, "2026-07-12": {24, 3, 3}} {
		sold(t, s, "GLASS", clock(date, 0, 0), c.hours*60, 10*(c.late+c.early))
		same(t, map[string]float64{"late glass": 10 * c.late, "early glass": 10 * c.early}, countedOn(t, s, date), date)
	}
	// The curve goes by the clock on the wall: the hour that comes twice weighs twice.
	for k := 1; k <= 2; k++ {
		d := models.Date("2026-10-25").AddDays(-7 * k)
		sold(t, s, "GLASS", clock(d, 2, 0), 60, 30)
		sold(t, s, "GLASS", clock(d, 3, 0), 60, 60)
	}
	sold(t, s, "TONIC", clock("2026-10-25", 2, 0), 3*60, 12) // 02:00, 02:00 again, 03:00
	got, err := facts.CountedOn(ctx, s, kiosk, "2026-10-25", clock("2026-10-26", 12, 0))
	require.NoError(t, err)
	require.InDelta(t, 6, got["late tonic"], 1e-9)
	require.InDelta(t, 6, got["early tonic"], 1e-9)
}

func TestAWindowOverTwoDaysIsCountedOnce(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)
	friday := saturday.AddDays(-1)
	sold(t, s, "GLASS", clock(friday, 12, 0), 24*60, 110) // seven hours open on Friday, four on Saturday
	same(t, map[string]float64{"midday glass": 30, "afternoon glass": 40}, countedOn(t, s, friday))
	same(t, map[string]float64{"morning glass": 40}, countedOn(t, s, saturday))
	for h := range 6 { // 60 of them were counted by the hour on Friday, until six: 50 are left for five hours
		sold(t, s, "GLASS", clock(friday, 12+h, 0), 60, 10)
	}
	same(t, map[string]float64{"midday glass": 30, "afternoon glass": 30 + 10}, countedOn(t, s, friday))
	same(t, map[string]float64{"morning glass": 40}, countedOn(t, s, saturday))
}

func TestAWindowAddsItsExcessOverShorterOnesOfTheDayBefore(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)
	friday := saturday.AddDays(-1)
	sold(t, s, "GLASS", clock(friday, 12, 0), 60, 10)
	sold(t, s, "GLASS", clock(friday, 12, 0), 600, 28) // 18 more in nine hours: four of them from 20:00 to 22:00
	sold(t, s, "GLASS", clock(friday, 20, 0), 840, 44) // 40 more, sold when the shop was open: from 08:00 to 10:00
	same(t, map[string]float64{"morning glass": 40}, countedOn(t, s, saturday))
}

func TestAWholeDaysExcessOverItsHoursFallsInTheOtherOpenHours(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)
	sold(t, s, "GLASS", clock(saturday, 0, 0), 24*60, 100)
	sold(t, s, "GLASS", clock(saturday, 12, 0), 60, 50)
	// 50 beyond, for the ten other hours: four in the morning, two at midday, four in the afternoon.
	same(t, map[string]float64{"morning glass": 20, "midday glass": 50 + 10, "afternoon glass": 20}, countedOn(t, s, saturday))
	sold(t, s, "TONIC", clock(saturday, 0, 0), 24*60, 100)
	sold(t, s, "TONIC", clock(saturday, 8, 0), 240, 40)
	sold(t, s, "TONIC", clock(saturday, 12, 0), 420, 50)
	got := countedOn(t, s, saturday)
	require.InDelta(t, 40, got["morning tonic"], 1e-9, "ten more lie in the minutes left uncovered, when the shop was closed")
	require.InDelta(t, 50, got["midday tonic"]+got["afternoon tonic"], 1e-9)
	s = kioskOf(t, nil)
	sold(t, s, "GLASS", clock(saturday, 0, 0), 24*60, 100)
	sold(t, s, "GLASS", clock(saturday, 12, 0), 60, 50)
	sold(t, s, "GLASS", clock(saturday, 15, 0), 240, 80) // more than the day is said to have: the hours win
	same(t, map[string]float64{"midday glass": 50, "afternoon glass": 80}, countedOn(t, s, saturday))
}

// A long window that extends past the end of the service day adds to the day only its count in excess of the shorter windows after
// the day.
func TestALongWindowPastTheDayIsReadWithTheShorterOnesAfterIt(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)                                            // closes at 19:00, an hour of set-up after
	sold(t, s, "GLASS", clock(saturday, 17, 0), 12*60, 30)          // to Sunday 05:00
	sold(t, s, "GLASS", clock(saturday.AddDays(1), 1, 0), 4*60, 24) // counted again by the hours after midnight
	got := countedOn(t, s, saturday)
	require.LessOrEqual(t, got["afternoon glass"], 6+1e-9, "24 of the 30 were sold after midnight")
	require.Positive(t, got["afternoon glass"])
}

func TestLateDoubledAndCorrectedCounts(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, nil)
	now := clock(saturday, 16, 0)
	sold(t, s, "GLASS", clock(saturday, 12, 0), 15, 7)
	sold(t, s, "GLASS", clock(saturday, 12, 0), 15, 7) // again
	sold(t, s, "GLASS", clock(saturday, 9, 0), 15, 3)  // late
	got, err := facts.CountedOn(ctx, s, kiosk, saturday, now)
	require.NoError(t, err)
	same(t, map[string]float64{"morning glass": 3, "midday glass": 7}, got)
	sold(t, s, "GLASS", clock(saturday, 12, 0), 15, 4) // corrected
	require.InDelta(t, 4, countedOn(t, s, saturday)["midday glass"], 1e-9)
	_, err = s.PutCounts(ctx, kiosk, models.SalesPost{Source: "till-2", Counts: []models.SalesCount{
		{Item: "GLASS", WindowStart: clock(saturday, 12, 0), WindowEnd: clock(saturday, 12, 15), Count: 5}}}, now, "", "")
	require.NoError(t, err)
	require.InDelta(t, 4, countedOn(t, s, saturday)["midday glass"], 1e-9, "another till, whose items nobody mapped")
	require.NoError(t, s.PutMappings(ctx, kiosk, []models.ItemMapping{{Source: "till-2", Item: "GLASS", Drink: new("glass"), Factor: 1.5}}))
	require.InDelta(t, 4+7.5, countedOn(t, s, saturday)["midday glass"], 1e-9, "mapped today: back to its first count, a large one for one and a half")
}

func TestAMappingFromADayLeavesEarlierCounts(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	friday := saturday.AddDays(-1)
	mapped(t, s, "ICED", "glass", 1)
	require.NoError(t, s.PutMappings(ctx, kiosk, []models.ItemMapping{{Source: "till", Item: "ICED", Drink: new("tonic"), Factor: 2, From: new(saturday)},
		{Source: "till", Item: "CAKE", Factor: 1}}))
	for _, d := range []models.Date{friday, saturday} {
		sold(t, s, "ICED", clock(d, 12, 0), 15, 5)
		sold(t, s, "CAKE", clock(d, 12, 0), 15, 50)
	}
	same(t, map[string]float64{"midday glass": 5}, countedOn(t, s, friday))
	same(t, map[string]float64{"midday tonic": 10}, countedOn(t, s, saturday))
}

func TestABeverageThatIsGoneIsNotOnSale(t *testing.T) {
	t.Parallel()
	s := kioskOf(t, func(u *models.Setup) {
		u.Drinks = append(u.Drinks, models.Drink{Code: "shot", Price: 300, Doses: []models.Dose{{Coffee: u.Coffees[0].Code, DoseG: 18}}})
	})
	found := func(hour, minute int, g float64) {
		at := clock(saturday, hour, minute)
		require.NoError(t, s.AddStockCount(ctx, kiosk, models.StockCount{CountedAt: at, Beverages: []models.Stock{{Beverage: "flash", G: g, MadeAt: at.Add(-time.Hour)}}}, at))
	}
	off := func() (out []string) {
		t.Helper()
		list, err := facts.OffSaleOn(ctx, s, kiosk, saturday, clock(saturday, 18, 30))
		require.NoError(t, err)
		for _, o := range list {
			out = append(out, o.Drink+" "+o.From.In(berlin).Format("15:04")+" "+o.To.In(berlin).Format("15:04"))
		}
		return out
	}
	found(7, 0, 0) // before the shop opens nothing has been made yet
	found(9, 0, 500)
	require.Empty(t, off())
	found(13, 0, 0)
	require.Equal(t, []string{"glass 13:00 00:00", "tonic 13:00 00:00"}, off(), "every drink with it, and no other, until the day ends")
	found(17, 0, 900)
	require.Equal(t, []string{"glass 13:00 17:00", "tonic 13:00 17:00"}, off(), "until some was found")
	require.NoError(t, s.AddStockChanges(ctx, kiosk, []models.StockChange{{Kind: "made", Beverage: new("flash"), G: new(3000.0), At: clock(saturday, 15, 30)}}, clock(saturday, 15, 31)))
	require.Equal(t, []string{"glass 13:00 15:30", "tonic 13:00 15:30"}, off(), "until more was made")
	sold(t, s, "TONIC", clock(saturday, 14, 15), 15, 2)
	sold(t, s, "TONIC", clock(saturday, 14, 0), 15, 0)
	sold(t, s, "GLASS", clock(saturday, 12, 45), 30, 4) // begun before
	require.Equal(t, []string{"glass 13:00 14:15", "tonic 13:00 14:15"}, off(), "until it was sold again")

	require.NoError(t, s.PutExpectedDemand(ctx, kiosk, []models.ExpectedDemand{{Date: saturday, DayPart: "midday", Drink: "glass", Expected: new(1.0)}}, time.Now()))
	for _, x := range gather(t, s, clock(saturday, 18, 30)).Sold {
		if x.DayPart == "midday" {
			require.True(t, x.Until.Equal(clock(saturday, 13, 0)), "%v: what came after says nothing of the demand", x)
		}
	}
}
