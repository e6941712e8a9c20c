package review_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/models"
	"hotday/planner/review"
)

// balanced checks a ledger day: opening + made = sold + poured away + left + unexplained.
func balanced(t require.TestingT, b models.BeverageReview, msg ...any) {
	in, out := *b.OpeningG+*b.MadeG, b.SoldG+*b.PouredG+*b.LeftG+*b.UnexplainedG
	require.InDelta(t, in, out, 1e-6*(1+math.Abs(in)), msg...)
	require.GreaterOrEqual(t, *b.LeftG, 0.0)
	require.GreaterOrEqual(t, *b.PastUseByG, 0.0)
}

func TestLedgerBalances(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var l review.Ledger
		g := rapid.Float64Range(0, 20_000)
		maybe := func(name string) *float64 {
			if !rapid.Bool().Draw(t, name+" given") {
				return nil
			}
			return new(g.Draw(t, name))
		}
		before := 0.0
		for day := range rapid.IntRange(1, 6).Draw(t, "days") {
			ends := time.Date(2026, 7, 1+day, 20, 0, 0, 0, time.UTC)
			in := review.DayRecord{Ends: ends, Hold: time.Duration(rapid.IntRange(1, 40).Draw(t, "hold")) * time.Hour, SoldG: g.Draw(t, "sold"),
				PouredG: g.Draw(t, "poured"), PouredAllPast: rapid.Bool().Draw(t, "rest"), CountedFirst: maybe("first"), CountedLast: maybe("last")}
			for range rapid.IntRange(0, 3).Draw(t, "batches") {
				in.Made = append(in.Made, models.Stock{G: g.Draw(t, "made"), MadeAt: ends.Add(-time.Duration(rapid.IntRange(0, 14).Draw(t, "hours before")) * time.Hour)})
			}
			b := l.Day(in)
			balanced(t, b)
			require.InDelta(t, before, *b.OpeningG, 1e-6, "a day opens with the stock left by the last")
			require.InDelta(t, *b.LeftG, l.Left(), 1e-6)
			if in.CountedLast != nil {
				require.InDelta(t, *in.CountedLast, *b.LeftG, 1e-6, "a count overrides the ledger")
			}
			before = *b.LeftG
		}
	})
}

func TestLedgerOfADay(t *testing.T) {
	t.Parallel()
	evening := time.Date(2026, 7, 11, 20, 0, 0, 0, time.UTC)
	made := func(g float64, hoursBefore int) []models.Stock {
		return []models.Stock{{G: g, MadeAt: evening.Add(-time.Duration(hoursBefore) * time.Hour)}}
	}
	for name, c := range map[string]struct {
		in                              review.DayRecord
		poured, left, unexplained, past float64
	}{
		"all recorded":                  {review.DayRecord{Made: made(5000, 12), SoldG: 4200, PouredG: 800}, 800, 0, 0, 0},
		"held over night":               {review.DayRecord{Made: made(5000, 4), SoldG: 4200}, 0, 800, 0, 0},
		"past its use-by, not recorded": {review.DayRecord{Made: made(5000, 12), SoldG: 4200}, 0, 0, 800, 800},
		"past its use-by, thrown away":  {review.DayRecord{Made: made(5000, 12), SoldG: 4200, PouredAllPast: true}, 800, 0, 0, 0},
		"sold more than was made":       {review.DayRecord{Made: made(5000, 4), SoldG: 6000}, 0, 0, -1000, 0},
		"less counted than expected":    {review.DayRecord{Made: made(5000, 4), SoldG: 4000, CountedLast: new(600.0)}, 0, 600, 400, 0},
		"counted before any record":     {review.DayRecord{CountedFirst: new(900.0), SoldG: 500, CountedLast: new(400.0)}, 0, 400, -900, 0},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c.in.Ends, c.in.Hold = evening, 8*time.Hour
			var l review.Ledger
			b := l.Day(c.in)
			balanced(t, b)
			require.InDelta(t, c.poured, *b.PouredG, 1e-9, "poured away")
			require.InDelta(t, c.left, *b.LeftG, 1e-9, "left")
			require.InDelta(t, c.unexplained, *b.UnexplainedG, 1e-9, "unexplained")
			require.InDelta(t, c.past, *b.PastUseByG, 1e-9, "past its use-by")
		})
	}
}

func TestIceShortfall(t *testing.T) {
	t.Parallel()
	// A bin of 10 kg and 20 kg a day: two days of 30 kg and one of 10.
	missing := review.IceShortfall([]float64{30e3, 30e3, 10e3}, []float64{20e3, 20e3, 20e3}, 10e3, 0, 0)
	require.InDeltaSlice(t, []float64{0, 10e3, 0}, missing, 1e-6)
	require.InDeltaSlice(t, []float64{0, 5e3, 0}, review.IceShortfall([]float64{30e3, 30e3, 10e3}, []float64{20e3, 20e3, 20e3}, 10e3, 0, 2.5e3), 2501)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 20).Draw(t, "days")
		g := rapid.SliceOfN(rapid.Float64Range(0, 50e3), n, n)
		asked, made := g.Draw(t, "asked"), g.Draw(t, "made")
		more := rapid.Float64Range(0, 30e3).Draw(t, "more")
		less, enough := review.IceShortfall(asked, made, 12e3, 1, 0), review.IceShortfall(asked, made, 12e3, 1, more)
		for i := range less {
			require.LessOrEqual(t, enough[i], less[i]+1e-6, "more ice never means more missing")
			require.LessOrEqual(t, less[i], asked[i]+1e-6)
		}
	})
}

func TestSavingsAreAdvisedWhileTheShopIsOfTheSizeReplayed(t *testing.T) {
	t.Parallel()
	saving := func(kind string, was, amount float64, clear bool) models.ReplaySaving {
		return models.ReplaySaving{Kind: kind, Was: was, Amount: amount, Days: 9, Of: 14, Money: 4000, Low: 2000, High: 6000, Clear: clear}
	}
	f := review.Facts{Replay: &models.Replay{From: "2026-07-01", To: "2026-07-14", Savings: []models.ReplaySaving{
		saving(models.AdviceHold, 8, 2, true), saving(models.AdviceBath, 2, 1, true), saving(models.AdviceIceBin, 24, 12, false)}}}
	f.Setup.Beverages = []models.Beverage{{Code: "flash", HoldH: 8}}
	f.Setup.Site.Baths, f.Setup.Ice.BinG = new(2), 24000
	for d := models.Date("2026-07-08"); d < "2026-07-12"; d = d.AddDays(1) {
		f.Days = append(f.Days, review.Day{PastDay: models.PastDay{Date: d}})
	}
	kinds := func(from models.Date) (out []string) {
		for _, a := range f.Review(from).Advice {
			require.InDelta(t, 2000, *a.MoneyLow, 0)
			require.Equal(t, 14, a.Of)
			out = append(out, a.Kind)
		}
		return out
	}
	require.Equal(t, []string{models.AdviceHold, models.AdviceBath}, kinds("2026-07-08"), "what is unclear is not said")
	f.Setup.Site.Baths = new(3)
	require.Equal(t, []string{models.AdviceHold}, kinds("2026-07-08"), "the bath has been bought")
	f.Setup.Beverages[0].HoldH = 10
	require.Empty(t, kinds("2026-07-08"))
	f.Setup.Beverages[0].HoldH = 8
	require.Empty(t, kinds("2026-08-08"), "other days")
}
