package bean

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func day(d int) time.Time { return time.Date(2026, 7, d, 0, 0, 0, 0, time.UTC) }

func need(d int, g float64) Need {
	return Need{Date: day(d), G: g, UseFrom: day(d).Add(6 * time.Hour)}
}

var rules = Rules{RestMinDays: 7, RestMaxDays: 45, ThawH: 12, PackG: 1000}

func TestOpenBagFirstThenWholeBagsOfTheOldestRoast(t *testing.T) {
	t.Parallel()
	lots := []Lot{
		{Code: "young", RoastedOn: day(1).AddDate(0, 0, -1), Grams: 2300, OpenG: 300},
		{Code: "old", RoastedOn: day(1).AddDate(0, 0, -20), Grams: 2000},
	}
	got := Plan(lots, rules, []Need{need(11, 1500), need(12, 700)}, day(10))
	require.Len(t, got, 2)
	first := got[0]
	assert.Zero(t, first.ShortfallG)
	require.Len(t, first.Picks, 2)
	assert.Equal(t, Pick{Lot: "old", UseG: 1200, PulledG: 2000, PullBy: need(11, 0).UseFrom, UseFrom: need(11, 0).UseFrom}, first.Picks[0])
	assert.Equal(t, Pick{Lot: "young", UseG: 300, OpenG: 300, PullBy: need(11, 0).UseFrom, UseFrom: need(11, 0).UseFrom}, first.Picks[1])
	// The next day 800 g of the opened bag are left: nothing is taken out.
	require.Len(t, got[1].Picks, 1)
	assert.Equal(t, Pick{Lot: "old", UseG: 700, OpenG: 700, PullBy: need(12, 0).UseFrom, UseFrom: need(12, 0).UseFrom}, got[1].Picks[0])
	assert.InDelta(t, 2300, lots[0].Grams, 0, "lots is not modified")
}

func TestDaysInTheFreezerAreNotRest(t *testing.T) {
	t.Parallel()
	l := Lot{RoastedOn: day(1), Freezer: true, FrozenOn: day(9)}
	assert.Equal(t, 8, l.rest(day(30)))
	l.FrozenOn = time.Time{}
	assert.Equal(t, 29, l.rest(day(30)), "all days count if the date of freezing is unknown")
	// A day of 23 hours counts as a day.
	zone, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	spring := Lot{RoastedOn: time.Date(2026, 3, 25, 0, 0, 0, 0, zone)}
	assert.Equal(t, 7, spring.rest(time.Date(2026, 4, 1, 0, 0, 0, 0, zone)))
}

func TestFreezerLotsAreTakenOutInTimeToThaw(t *testing.T) {
	t.Parallel()
	lots := []Lot{{Code: "frozen", RoastedOn: day(1), Grams: 3000, Freezer: true, FrozenOn: day(10)}}
	got := Plan(lots, rules, []Need{need(20, 500)}, day(19))
	require.Len(t, got[0].Picks, 1)
	assert.Equal(t, need(20, 0).UseFrom.Add(-12*time.Hour), got[0].Picks[0].PullBy)

	late := Plan(lots, rules, []Need{need(20, 500)}, day(19).Add(20*time.Hour))
	assert.InDelta(t, 500, late[0].ShortfallG, 1e-9)
	require.Len(t, late[0].Shortfalls, 1)
	assert.Equal(t, ThawLate, late[0].Shortfalls[0].Reason)
	assert.Equal(t, day(19).Add(32*time.Hour), late[0].Shortfalls[0].Usable)
}

func TestShortfallsHaveReasonAmountAndDate(t *testing.T) {
	t.Parallel()
	lots := []Lot{
		{Code: "green", RoastedOn: day(8), Grams: 600},
		{Code: "stale", RoastedOn: day(1).AddDate(0, -2, 0), Grams: 400},
		{Code: "fit", RoastedOn: day(1), Grams: 500},
	}
	got := Plan(lots, rules, []Need{need(12, 2000)}, day(10))[0]
	assert.InDelta(t, 1500, got.ShortfallG, 1e-9)
	require.Len(t, got.Shortfalls, 3)
	by := map[Reason]Shortfall{}
	for _, s := range got.Shortfalls {
		by[s.Reason] = s
	}
	assert.Equal(t, Shortfall{Reason: TooYoung, Lot: "green", G: 600, Usable: day(15)}, by[TooYoung])
	assert.Equal(t, Shortfall{Reason: TooOld, Lot: "stale", G: 400, Usable: day(15).AddDate(0, -1, 0)}, by[TooOld])
	assert.InDelta(t, 500, by[TooFew].G, 1e-9)
}

func TestGrinderLossIsAdded(t *testing.T) {
	t.Parallel()
	r := rules
	r.GrinderLossPct = 5
	got := Plan([]Lot{{Code: "a", RoastedOn: day(1), Grams: 5000}}, r, []Need{need(12, 950)}, day(10))[0]
	assert.InDelta(t, 1000, got.TakeG, 1e-9)
	assert.InDelta(t, 1000, got.Picks[0].PulledG, 1e-9, "exactly one bag")
}

func TestMassBalanceCloses(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var lots []Lot
		total := 0.0
		for i := range rapid.IntRange(0, 5).Draw(t, "lots") {
			l := Lot{Code: string(rune('a' + i)), RoastedOn: day(1).AddDate(0, 0, -rapid.IntRange(0, 70).Draw(t, "age")),
				Grams: float64(rapid.IntRange(0, 5000).Draw(t, "grams")), Freezer: rapid.Bool().Draw(t, "freezer")}
			l.OpenG = l.Grams * rapid.Float64Range(0, 1).Draw(t, "open")
			total += l.Grams
			lots = append(lots, l)
		}
		r := rules
		r.PackG = rapid.SampledFrom([]float64{0, 250, 1000}).Draw(t, "pack")
		r.GrinderLossPct = rapid.Float64Range(0, 20).Draw(t, "loss")
		var needs []Need
		for d := range rapid.IntRange(1, 5).Draw(t, "days") {
			needs = append(needs, need(10+d, rapid.Float64Range(0, 3000).Draw(t, "need")))
		}
		used := map[string]float64{}
		for _, d := range Plan(lots, r, needs, day(9)) {
			sum, idle := 0.0, 0.0
			for _, p := range d.Picks {
				if p.UseG < 0 || p.PulledG < 0 || p.UseG > p.OpenG+p.PulledG+1e-9 || p.PullBy.After(p.UseFrom) {
					t.Fatalf("%+v", p)
				}
				sum += p.UseG
				used[p.Lot] += p.UseG
			}
			for _, s := range d.Shortfalls {
				idle += s.G
			}
			if math.Abs(sum+d.ShortfallG-d.TakeG) > 1e-6 {
				t.Fatalf("%g g used and %g g short do not add up to %g g", sum, d.ShortfallG, d.TakeG)
			}
			if d.ShortfallG > 0 && idle < d.ShortfallG-1e-6 {
				t.Fatalf("%g g short, %g g explained", d.ShortfallG, idle)
			}
		}
		for _, l := range lots {
			if used[l.Code] > l.Grams+1e-6 {
				t.Fatalf("%g g used of a lot of %g g", used[l.Code], l.Grams)
			}
		}
	})
}

func BenchmarkPlan(b *testing.B) {
	lots := []Lot{{Code: "a", RoastedOn: day(1), Grams: 5000, OpenG: 300}, {Code: "b", RoastedOn: day(2), Grams: 5000}}
	needs := []Need{need(12, 1500), need(13, 2500), need(14, 2500)}
	for b.Loop() {
		Plan(lots, rules, needs, day(10))
	}
}

func TestRestWindowIsInclusive(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		rest int
		fits bool
	}{{6, false}, {7, true}, {45, true}, {46, false}} {
		lots := []Lot{{Code: "a", RoastedOn: day(12).AddDate(0, 0, -c.rest), Grams: 1000}}
		got := Plan(lots, rules, []Need{need(12, 100)}, day(10))[0]
		assert.Equal(t, c.fits, got.ShortfallG == 0, "%d days", c.rest)
	}
}

func TestLooseCoffeeIsTakenOutToTheGram(t *testing.T) {
	t.Parallel()
	loose := rules
	loose.PackG = 0
	got := Plan([]Lot{{Code: "a", RoastedOn: day(1), Grams: 900}}, loose, []Need{need(12, 350), need(13, 700)}, day(10))
	assert.InDelta(t, 350, got[0].Picks[0].PulledG, 1e-9)
	assert.InDelta(t, 550, got[1].Picks[0].PulledG, 1e-9, "all that is left")
	assert.InDelta(t, 150, got[1].ShortfallG, 1e-9)
}

func TestLastBagMayBeSmaller(t *testing.T) {
	t.Parallel()
	got := Plan([]Lot{{Code: "a", RoastedOn: day(1), Grams: 1400}}, rules, []Need{need(12, 1200)}, day(10))[0]
	assert.InDelta(t, 1400, got.Picks[0].PulledG, 1e-9)
	assert.Zero(t, got.ShortfallG)
}

func TestLotsOfTheSameRoastAreUsedInOrderOfCode(t *testing.T) {
	t.Parallel()
	lots := []Lot{{Code: "b", RoastedOn: day(1), Grams: 1000}, {Code: "a", RoastedOn: day(1), Grams: 1000}}
	got := Plan(lots, rules, []Need{need(12, 300)}, day(10))[0]
	require.Len(t, got.Picks, 1)
	assert.Equal(t, "a", got.Picks[0].Lot)
}

func TestThawingInTimeToTheMinute(t *testing.T) {
	t.Parallel()
	lots := []Lot{{Code: "frozen", RoastedOn: day(1), Grams: 3000, Freezer: true, FrozenOn: day(10)}}
	takeOut := need(20, 0).UseFrom.Add(-12 * time.Hour)
	assert.Zero(t, Plan(lots, rules, []Need{need(20, 500)}, takeOut)[0].ShortfallG)
	assert.InDelta(t, 500, Plan(lots, rules, []Need{need(20, 500)}, takeOut.Add(time.Minute))[0].ShortfallG, 1e-9)
	// An open bag has been taken out before.
	lots[0].OpenG = 600
	got := Plan(lots, rules, []Need{need(20, 500)}, takeOut.Add(time.Minute))[0]
	assert.Zero(t, got.ShortfallG)
	assert.True(t, got.Picks[0].Freezer)
	assert.InDelta(t, 500, got.Picks[0].OpenG, 1e-9)
	// A lot that will be frozen later rests until then.
	assert.Equal(t, 8, Lot{RoastedOn: day(1), Freezer: true, FrozenOn: day(20)}.rest(day(9)))
	// Not in the freezer, an earlier date of freezing does not matter.
	assert.Equal(t, 29, Lot{RoastedOn: day(1), FrozenOn: day(9)}.rest(day(30)))
}

func TestOpenBagOfAYoungLotWaits(t *testing.T) {
	t.Parallel()
	lots := []Lot{{Code: "young", RoastedOn: day(9), Grams: 800, OpenG: 800}, {Code: "ready", RoastedOn: day(1), Grams: 200}}
	got := Plan(lots, rules, []Need{need(12, 500)}, day(10))[0]
	require.Len(t, got.Picks, 1)
	assert.Equal(t, "ready", got.Picks[0].Lot)
	assert.InDelta(t, 300, got.ShortfallG, 1e-9)
	assert.Equal(t, []Shortfall{{Reason: TooYoung, Lot: "young", G: 300, Usable: day(16)}}, got.Shortfalls, "at most what the day lacks, and nothing more to buy")
}

func TestStockIsUsedOnlyOnce(t *testing.T) {
	t.Parallel()
	lots := []Lot{{Code: "a", RoastedOn: day(1), Grams: 2300, OpenG: 300}}
	got := Plan(lots, rules, []Need{need(11, 200), need(12, 600), need(13, 1000), need(14, 1000)}, day(10))
	type use struct{ open, pulled, lack float64 }
	var uses []use
	for _, d := range got {
		u := use{lack: d.ShortfallG}
		for _, p := range d.Picks {
			u.open += p.OpenG
			u.pulled += p.PulledG
		}
		uses = append(uses, u)
	}
	// 100 g of the open bag are left for the second day; of its own new bag 500 g for the third.
	assert.Equal(t, []use{{200, 0, 0}, {100, 1000, 0}, {500, 1000, 0}, {500, 0, 500}}, uses)
	assert.Equal(t, []Shortfall{{Reason: TooFew, G: 500}}, got[3].Shortfalls)
}

func TestExactlyEnoughIsNotAShortfall(t *testing.T) {
	t.Parallel()
	lots := []Lot{{Code: "a", RoastedOn: day(1), Grams: 1000}, {Code: "empty", RoastedOn: day(9)}}
	got := Plan(lots, rules, []Need{need(12, 1000), need(13, 0)}, day(10))
	assert.Zero(t, got[0].ShortfallG)
	assert.Empty(t, got[0].Shortfalls)
	assert.Empty(t, got[1].Picks, "no need, no picks")
	got = Plan(lots, rules, []Need{need(12, 1500)}, day(10))
	assert.Equal(t, []Shortfall{{Reason: TooFew, G: 500}}, got[0].Shortfalls, "an empty lot does not explain it")
}
