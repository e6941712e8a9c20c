package learnt

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// iceTruth is an invented shop's ice: factors on the set-up, the change of output beyond it for 1 °C, as a share, and how often the bin is
// looked at.
type iceTruth struct {
	output, loss, served, slope float64
	days, looks                 int
}

// inventedIce draws some weeks of a shop with a machine of 1.2 bins a day and drinks to match, busier in the heat, whose truth is t times
// the set-up. The bin is looked at by eye in quarters, one look in fifty is nonsense, and the machine's output varies by day.
func inventedIce(r *rand.Rand, t iceTruth) IceShop {
	const bin, perDay, lossPct = 30_000.0, 36_000.0, 0.8
	s := IceShop{BinG: bin, LossPctPerH: lossPct, Machines: []string{"bar"}}
	level := bin * 0.6
	keep := math.Pow(1-lossPct*t.loss/100, 0.25)
	looks := map[int]bool{}
	for _, h := range []float64{7, 11, 15, 19, 22}[:t.looks] {
		looks[int(h*4)] = true
	}
	for range t.days {
		high := 27 + 5*r.NormFloat64()
		day := math.Exp(0.05 * r.NormFloat64())
		busy := perDay * t.output * (0.9 + 0.03*(high-27)) * math.Exp(0.2*r.NormFloat64()) / t.served
		for q := range 96 {
			if looks[q] {
				eye := level + 0.05*bin*r.NormFloat64()
				g := math.Round(eye/bin*4) / 4 * bin
				if r.Float64() < 0.02 {
					g = bin * float64(r.IntN(5)) / 4
				}
				s.Counts = append(s.Counts, BinCount{Step: len(s.Steps), G: min(max(0, g), bin)})
			}
			air := high - 5 + 5*math.Cos(2*math.Pi*(float64(q)/4-15)/24)
			made := perDay / 96 * (1 - 0.015*(air-21))
			served := 0.0
			if q >= 32 && q < 80 {
				served = busy / 48 * (0.7 + 0.5*math.Sin(float64(q-32)/48*math.Pi)) * math.Exp(0.4*r.NormFloat64()-0.08)
			}
			took := min(served*t.served, level) // of what was asked for
			level = min(max(0, level*keep+made*t.output*math.Exp(t.slope*(air-meanAirC))*day-took), bin)
			s.Steps = append(s.Steps, IceStep{AirC: air, MadeG: []float64{made}, ServedG: took / t.served * math.Exp(0.1*r.NormFloat64()-0.005)})
		}
	}
	return s
}

// meanAirC is the mean air temperature of the invented shops, °C.
const meanAirC = 22.0

// iceShops is the number of invented shops: few, or HOTDAY_SHOPS.
func iceShops(t *testing.T, few int) uint64 {
	t.Helper()
	v := os.Getenv("HOTDAY_SHOPS")
	if v == "" {
		return uint64(few)
	}
	n, err := strconv.ParseUint(v, 10, 32)
	require.NoError(t, err, "HOTDAY_SHOPS is a number of shops")
	return n
}

// Three weeks of four looks a day, by eye in quarters. The machine's estimate comes within 5 % in most shops, its range holds the truth in
// about nine of ten. HOTDAY_SHOPS=200 says so of more of them.
func TestIceMachineIsLearntFromCountsInQuarters(t *testing.T) {
	t.Parallel()
	var output, loss, served, slopes record
	bias := 0.0
	for seed := range iceShops(t, 16) {
		r := rand.New(rand.NewPCG(seed, 5))
		truth := iceTruth{output: differing(r), loss: math.Exp(0.3 * r.NormFloat64()), served: math.Exp(0.05 * r.NormFloat64()), slope: 0.004 * r.NormFloat64(), days: 21, looks: 4}
		s := inventedIce(r, truth)
		fit := s.Fit()
		require.True(t, fit.Reliable, "seed %d", seed)
		add := func(c *record, truth float64, x Ratio) {
			c.add(truth, Scalar{Value: x.Median, Low: x.Low, High: x.High})
		}
		at := truth.output * math.Exp(truth.slope*(fit.AirC[1]-meanAirC))
		add(&output, at, fit.Output[0][1])
		add(&loss, truth.loss, fit.Loss)
		add(&served, truth.served, fit.Served)
		add(&slopes, math.Exp(truth.slope), ratioOf(fit.SlopeC, fit.SlopeSD))
		bias += math.Log(fit.Output[0][1].Median / at)
	}
	t.Logf("output: %s; bias %+.1f %%", output.String(), 100*bias/float64(output.all))
	t.Log("loss of the bin:", loss.String())
	t.Log("ice served:", served.String())
	t.Log("slope:", slopes.String())
	slices.Sort(output.off)
	require.Less(t, output.off[len(output.off)/2], 0.05)
	require.Less(t, output.worst(), 0.15)
	for _, c := range []*record{&output, &served, &slopes} {
		c.requireCalibrated(t)
	}
}

func TestCountsByTheGramSayMoreThanQuarters(t *testing.T) {
	t.Parallel()
	s := inventedIce(rand.New(rand.NewPCG(3, 9)), iceTruth{output: 0.8, loss: 1, served: 1, days: 21, looks: 4})
	require.InDelta(t, s.BinG/4, resolutionOf(&s), 1e-9)
	quarters := s.Fit().Output[0][1]
	require.Less(t, quarters.High, 1.0, "the set-up's output is ruled out")
	s.Counts = slices.Clone(s.Counts)
	for i := range s.Counts {
		s.Counts[i].G += float64(i%7) * 100 // no multiples any more
	}
	require.Zero(t, resolutionOf(&s))
}

func TestUnknownStepsSayNothing(t *testing.T) {
	t.Parallel()
	s := inventedIce(rand.New(rand.NewPCG(4, 9)), iceTruth{output: 0.8, loss: 1, served: 1, days: 7, looks: 4})
	known := s.Fit()
	require.Equal(t, 27, known.N)
	for i := range s.Steps {
		s.Steps[i].Unknown = true
	}
	require.Zero(t, s.Fit().N)
	require.False(t, s.Fit().Reliable)
	empty := IceShop{}
	require.False(t, empty.Fit().Reliable)
}

// Two machines fill one bin: what they make together is known, and since machines of a shop err together, so is each, less well.
func TestTwoMachinesShareWhatTheirBinSays(t *testing.T) {
	t.Parallel()
	s := inventedIce(rand.New(rand.NewPCG(6, 9)), iceTruth{output: 0.75, loss: 1, served: 1, days: 21, looks: 4})
	one := s.Fit().Output[0][1]
	s.Machines = []string{"bar", "yard"}
	for i := range s.Steps {
		g := s.Steps[i].MadeG[0]
		s.Steps[i].MadeG = []float64{0.6 * g, 0.4 * g}
	}
	fit := s.Fit()
	require.True(t, fit.Reliable)
	for _, x := range fit.Output {
		require.InDelta(t, 0.75, x[1].Median, 0.1)
		require.Greater(t, x[1].High/x[1].Low, one.High/one.Low)
		require.Less(t, x[1].High, 1.0)
	}
}
