package replay

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// toySeason is a shop whose costs can be calculated by hand: one hot-chilled beverage of 200 g a glass, ice for baths alone, one brewer that
// makes 100 g to 10 kg in a slot, open from 10:00 to 14:00 every day. A gram contains 2400/1000/(12 + 0.2 − 2.2) = 0.24
// cents of coffee and costs 0.02 to dispose of; a glass at 4.00 contributes 400 − 200·0.24 = 352; a batch costs 150. There
// is no ageing cost.
func toySeason(days int, servings func(i int) float64) Season {
	s := Season{Title: "A toy."}
	s.Site = models.Site{Code: "toy", Name: "Toy", Timezone: "UTC", Currency: "EUR", SetupMin: 60, SlotMin: 30, StartsPerSlot: 1, StoreG: 20000, StoreTempC: 4, MaxHoldH: 24,
		DayParts: []models.DayPart{{Code: "noon", From: "10:00", To: "14:00"}}}
	for _, d := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		s.Site.Opening = append(s.Site.Opening, models.Opening{Weekday: d, From: "10:00", To: "14:00"})
	}
	s.Coffees = []models.Coffee{{Code: "bean", RestDaysMin: 7, RestDaysMax: 45, PackG: 1000, CostPerKg: 2400}}
	s.Beverages = []models.Beverage{{Code: "cold", Method: models.HotChilled, Coffee: "bean", Ratio: 12, RetainedRatio: 2.2, MaxYieldPct: 20, BrewerOutTempC: 82, Bath: true,
		TargetTempC: 5, ReadyMin: 30, HoldH: 6, TargetTDSPct: 1.4, DisposalCost: 20}}
	s.Drinks = []models.Drink{{Code: "glass", Price: 400, Uses: []models.Use{{Beverage: "cold", G: 200}}}}
	s.Brewers = []models.Brewer{{Code: "urn", Beverages: []string{"cold"}, MinBeverageG: 100, MaxBeverageG: 10000, BusyMin: 30, BatchCost: 150}}
	s.Ice = models.Ice{BinG: 1000, IceTempC: -3, InletWaterC: 20, Plain: models.PlainIce{OpeningG: 1e6}}
	s.Water = models.Water{TankL: 100, OpeningL: 100, MakeLPerH: 20, RecoveryPct: 50, Source: models.Ions{CaMgL: 60, MgMgL: 9, NaMgL: 12, KMgL: 2, HCO3MgL: 190},
		Target: models.WaterTarget{HardnessMgLCaCO3: 80, AlkalinityMgLCaCO3: 40, MgShare: 0.3}, Salts: []string{"CaCl2.2H2O", "MgSO4.7H2O", "NaHCO3"}}
	s.Costs.ShortFactor = 1
	for i := range days {
		c := 20.0
		s.Days = append(s.Days, Day{Date: models.Date("2026-05-04").AddDays(i), Weather: Weather{TempC: &c}, Counts: []Count{{DayPart: "noon", Drink: "glass", Count: servings(i)}}})
	}
	return s
}

// Costs of the toy shop, in cents.
const (
	toyCoffee  = 2400.0 / 1000 / (12 + 0.2 - 2.2) // per gram: 10 g of beverage for 1 g of coffee
	toyGlass   = 400 - 200*toyCoffee
	toyBatch   = 150.0
	toyDispose = 0.02
)

func run(t *testing.T, s Season, o Options) Result {
	t.Helper()
	require.NoError(t, s.Validate())
	r, err := Run(context.Background(), &s, o)
	require.NoError(t, err)
	return r
}

func TestToySeasonMatchesHandCalculation(t *testing.T) {
	t.Parallel()
	// Four weeks of 20 glasses, then a day of 30, one of 10 and one of 20.
	last := []float64{30, 10, 20}
	s := toySeason(31, func(i int) float64 {
		if i >= 28 {
			return last[i-28]
		}
		return 20
	})
	r := run(t, s, Options{From: s.Days[28].Date})
	require.Len(t, r.Days, 3)
	// The demand of these days is a whole number of dose steps; a gram of beverage is for rounding errors.
	const near = toyGlass / 200
	for i, d := range r.Days {
		perfect, par := d.Figures[Foresight], d.Figures[Par]
		require.InDelta(t, toyBatch, perfect.Cost(), near, "foresight brews the demand in one batch: day %d", i)
		require.InDelta(t, toyBatch+last[i]*200*toyCoffee, perfect.Total(), near)
		require.Equal(t, 1, par.Batches)
		if last[i] == 30 {
			require.InDelta(t, 10, par.Missed, 0.01)
			require.InDelta(t, toyBatch+10*toyGlass, par.Cost(), near)
		}
		require.Zero(t, d.Figures[Foresight].IceShortH)
	}
	// The par sheet's ten surplus glasses of the second day reach their use-by time after closing. They are poured away in the third
	// day's first slot.
	poured := r.Days[1].Figures[Par].PouredG + r.Days[2].Figures[Par].PouredG
	require.InDelta(t, 2000, poured, 3)
	both := r.Days[1].Figures[Par].Cost() + r.Days[2].Figures[Par].Cost()
	require.InDelta(t, 2*toyBatch+2000*(toyCoffee+toyDispose), both, 2*near)
}

func TestParSheetIsTheMeanOfFourSameWeekdaysPlusAFifthInTheHeat(t *testing.T) {
	t.Parallel()
	s := toySeason(43, func(i int) float64 { return float64(i) })
	require.NoError(t, s.Validate())
	k := history{s: &s, rows: s.rows()}
	for i := range 42 {
		if i == 35 {
			s.Days[i].Closed = true // a closed Monday does not count
		}
		k.add(&s.Days[i])
	}
	c := 28.0
	require.InDelta(t, (7+14+21+28)/4.0, k.par(&s.Days[42], &Weather{TempC: &c})[0], 1e-9)
	c = 28.1
	require.InDelta(t, 1.2*(7+14+21+28)/4.0, k.par(&s.Days[42], &Weather{TempC: &c})[0], 1e-9)
}

func TestClosedDay(t *testing.T) {
	t.Parallel()
	s := toySeason(40, func(i int) float64 { return 20 + float64(i%3) })
	s.Days[37].Closed = true // its counts are not sales of an open day
	r := run(t, s, Options{})
	require.Len(t, r.Days, 5)
	d := r.Days[2]
	require.False(t, d.Open)
	require.Zero(t, d.Rows)
	for m := range methods {
		f := d.Figures[m]
		require.Zero(t, f.Batches, m)
		require.Zero(t, f.Demand, m)
		require.Zero(t, f.Missed, m)
		require.Zero(t, f.OpenDays, m)
		require.InDelta(t, f.PouredCoffee+f.Disposal, f.Cost(), 1e-9, "the only cost is that of pouring away the stock: %s", m)
	}
	require.Positive(t, r.Days[3].Figures[Plan].Batches, "the day after is planned again")
}

func TestMissingDatesAreClosedDays(t *testing.T) {
	t.Parallel()
	s := toySeason(10, func(int) float64 { return 5 })
	s.Days = append(s.Days[:4], s.Days[7:]...)
	s.Days[0], s.Days[5] = s.Days[5], s.Days[0]
	require.NoError(t, s.Validate())
	require.Len(t, s.Days, 10)
	for i := range s.Days {
		require.Equal(t, models.Date("2026-05-04").AddDays(i), s.Days[i].Date)
		require.Equal(t, i >= 4 && i < 7, s.Days[i].Closed)
	}
}

func TestBoundsAndCancellation(t *testing.T) {
	t.Parallel()
	s := toySeason(50, func(int) float64 { return 5 })
	require.Len(t, run(t, s, Options{Days: 2}).Days, 2)
	require.Equal(t, s.Days[35].Date, run(t, s, Options{Days: 1}).From)
	for _, o := range []Options{{From: "2026-01-01"}, {From: "2027-01-01"}, {Days: -1}} {
		_, err := Run(context.Background(), &s, o)
		require.Equal(t, models.CodeInvalid, models.CodeOf(err), fmt.Sprint(o))
	}
	ctx, cancel := context.WithCancel(context.Background())
	r, err := Run(ctx, &s, Options{Progress: func(done, of int, _ models.Date) {
		require.Equal(t, 15, of)
		if done == 3 {
			cancel()
		}
	}})
	require.ErrorIs(t, err, context.Canceled)
	require.Len(t, r.Days, 3)
}

func TestReplayIsDeterministic(t *testing.T) {
	t.Parallel()
	s := toySeason(38, func(i int) float64 { return float64(10 + i*i%17) })
	require.Equal(t, run(t, s, Options{}), run(t, s, Options{}))
}

func TestFirstDayHasNoHistory(t *testing.T) {
	t.Parallel()
	s := toySeason(3, func(int) float64 { return 10 })
	r := run(t, s, Options{From: s.Days[0].Date})
	require.Zero(t, r.Days[0].Figures[Plan].Batches)
	require.InDelta(t, 10*toyGlass, r.Days[0].Figures[Plan].Cost(), 1e-6)
	require.InDelta(t, 10, r.Days[0].Figures[Par].Missed, 1e-9)
	require.Less(t, r.Days[0].Figures[Foresight].Cost(), 2*toyBatch)
}
