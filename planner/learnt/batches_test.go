package learnt

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/planner/brew"
	"hotday/planner/chill"
)

// differing draws a factor that is 10 to 30 % from 1.
func differing(r *rand.Rand) float64 {
	off := 0.10 + 0.20*r.Float64()
	if r.IntN(2) == 0 {
		return 1 - off
	}
	return 1 + off
}

// record is how far estimates were off the truth, and how often their ranges held it.
type record struct {
	off         []float64
	inside, all int
}

func (c *record) add(truth float64, x Scalar) {
	c.off = append(c.off, math.Abs(x.Value/truth-1))
	c.all++
	if x.Low <= truth && truth <= x.High {
		c.inside++
	}
}

func (c *record) String() string {
	slices.Sort(c.off)
	within := 0
	for _, x := range c.off {
		if x <= 0.05 {
			within++
		}
	}
	return fmt.Sprintf("off by %.1f %% (median), %.1f %% (nine in ten), %.1f %% (worst); within 5 %%: %d of %d; inside the 90 %% range: %d of %d",
		100*c.off[len(c.off)/2], 100*c.off[len(c.off)*9/10], 100*c.off[len(c.off)-1], within, c.all, c.inside, c.all)
}

func (c *record) worst() float64 { return slices.Max(c.off) }

// requireCalibrated checks that about nine ranges in ten hold the truth: within four standard errors.
func (c *record) requireCalibrated(t *testing.T) {
	t.Helper()
	share := float64(c.inside) / float64(c.all)
	require.InDelta(t, 0.9, share, 4*math.Sqrt(0.09/float64(c.all)), c.String())
}

// batchShops is the number of invented shops.
const batchShops = 120

// Three weeks with two batches of a beverage a day, a slip of the scale or a batch cut short now and then.
func TestRetentionAndStrengthAreLearntFromBatches(t *testing.T) {
	t.Parallel()
	const retained, yield = 2.1, 21.8
	var kept, strong record
	for seed := range uint64(batchShops) {
		r := rand.New(rand.NewPCG(seed, 1))
		a, s := retained*differing(r), yield*differing(r)
		var batches []Brewed
		for range 42 {
			b := Brewed{Brewer: "left", DoseG: 200 + 300*r.Float64()}
			b.WaterG, b.IceG = 12*b.DoseG, 3*b.DoseG
			x, err := brew.Extract(b.DoseG, b.WaterG, a, s)
			require.NoError(t, err)
			b.BeverageG = (x.BeverageG + b.IceG) * math.Exp(0.015*r.NormFloat64())
			if r.Float64() < 0.04 {
				b.BeverageG *= 0.5
			}
			if r.Float64() < 0.5 { // only every other one is measured
				b.TDSPct = x.TDSPct * x.BeverageG / (x.BeverageG + b.IceG) * math.Exp(0.03*r.NormFloat64())
			}
			batches = append(batches, b)
		}
		x := Retention(batches, retained, yield)
		kept.add(a-(s-yield)/100, x) // as far as the set-up's yield goes
		strong.add(s, Strength(batches, x.Value, yield))
	}
	t.Log("retention:", kept.String())
	t.Log("strength:", strong.String())
	for _, c := range []*record{&kept, &strong} {
		require.Less(t, c.worst(), 0.05)
		c.requireCalibrated(t)
	}
}

// Three weeks with two readings a day in batches of different sizes, whose heat transfer grows with the size.
func TestCoolingIsLearntFromReadings(t *testing.T) {
	t.Parallel()
	const ua, full = 22.0, 6000.0
	var whole record
	var halves record
	for seed := range uint64(batchShops) {
		r := rand.New(rand.NewPCG(seed, 2))
		truth, power := ua*differing(r), 0.3*r.NormFloat64()
		var readings []Cooled
		for range 42 {
			c := Cooled{MassG: full * (0.4 + 0.6*r.Float64()), FromC: 80, AmbientC: 0, ReadC: 8 + 30*r.Float64()}
			own := truth * math.Pow(c.MassG/full, power) * math.Exp(0.12*r.NormFloat64())
			c.Minutes = chill.CoolingMinutes(c.MassG, c.FromC, c.AmbientC, own, c.ReadC)
			readings = append(readings, c)
		}
		got := CoolingOf(readings, ua, full, []float64{full / 2, full})
		whole.add(truth, got.UA)
		halves.add(truth*math.Pow(0.5, power), got.At[0])
		require.Equal(t, got.UA, got.At[1])
	}
	t.Log("full batches:", whole.String())
	t.Log("half batches:", halves.String())
	whole.requireCalibrated(t)
	halves.requireCalibrated(t)
	slices.Sort(whole.off)
	require.Less(t, whole.off[len(whole.off)/2], 0.05)
}

func TestHoldIsLearntFromDiscards(t *testing.T) {
	t.Parallel()
	const hold = 12.0
	var c record
	for seed := range uint64(batchShops) {
		r := rand.New(rand.NewPCG(seed, 3))
		truth := hold * (0.7 + 0.2*r.Float64())
		var ends []Ended
		for range 42 {
			gone := hold * r.Float64() * 1.3 // when it would be used up
			keeps := truth * math.Exp(0.1*r.NormFloat64())
			ends = append(ends, Ended{Hours: min(gone, keeps), Discarded: keeps < gone})
		}
		c.add(truth, Hold(ends, hold))
	}
	t.Log("hold:", c.String())
	c.requireCalibrated(t)
	slices.Sort(c.off)
	assert.Less(t, c.off[len(c.off)/2], 0.05)
}

func TestOneSlipOfTheScaleHardlyMovesTheEstimate(t *testing.T) {
	t.Parallel()
	var batches []Brewed
	for range 12 {
		batches = append(batches, Brewed{DoseG: 400, WaterG: 4800, BeverageG: 4800 + 0.218*400 - 2.4*400})
	}
	before := Retention(batches, 2.1, 21.8)
	batches[3].BeverageG /= 2
	after := Retention(batches, 2.1, 21.8)
	require.InEpsilon(t, before.Value, after.Value, 0.02)
	require.InEpsilon(t, 2.4, after.Value, 0.02)
}

func TestWithoutObservationsTheEstimateIsThePrior(t *testing.T) {
	t.Parallel()
	x := Retention(nil, 2.1, 21.8)
	require.Zero(t, x.N)
	require.InEpsilon(t, 2.1, x.Value, 0.01)
	require.InEpsilon(t, math.Exp(z90*math.Sqrt(math.Log1p(retentionSD*retentionSD))), x.High/x.Value, 0.02)
}
