package learnt

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/chill"
)

// testShop is a set-up with one beverage on one brewer and one ice machine.
func testShop() *models.Setup {
	s := &models.Setup{}
	s.Site.MaxHoldH, s.Site.StoreTempC = 24, 4
	s.Beverages = []models.Beverage{{Code: "flash", Method: models.Flash, Ratio: 15, IceShare: 0.25, RetainedRatio: 2.1, MaxYieldPct: 21.8, BrewerOutTempC: 82, Bath: true,
		CoolingUAWPerK: new(22.0), HoldH: 12}}
	s.Brewers = []models.Brewer{{Code: "left", Beverages: []string{"flash"}, MaxBeverageG: 6000}, {Code: "right", Beverages: []string{"flash"}, MaxBeverageG: 6000}}
	s.Ice.BinG, s.Ice.BinLossPctPH, s.Ice.InletWaterC = 30_000, 0.8, 10
	s.Ice.Makers = []models.IceMaker{{Code: "bar", KgPerDayRated: 36, RatedAirC: 21, RatedWaterC: 10}}
	return s
}

// weighed are n batches that retain so much on a brewer, with an error of 1.5 %.
func weighed(n int, brewer string, retained float64) []Brewed {
	r := rand.New(rand.NewPCG(1, 1))
	var out []Brewed
	for range n {
		b := Brewed{Brewer: brewer, DoseG: 400, WaterG: 4500, IceG: 1500}
		b.BeverageG = (6000 + (0.218-retained)*400) * math.Exp(0.015*r.NormFloat64())
		out = append(out, b)
	}
	return out
}

func find(t *testing.T, list []models.LearntValue, id string) *models.LearntValue {
	t.Helper()
	i := slices.IndexFunc(list, func(v models.LearntValue) bool { return v.ID == id })
	require.GreaterOrEqual(t, i, 0, "%s in %+v", id, list)
	return &list[i]
}

func TestChangeIsSuggestedWhereTheEvidenceIsClear(t *testing.T) {
	t.Parallel()
	s := testShop()
	of := func(batches ...Brewed) *models.LearntValue {
		return find(t, Values(s, &Observed{Batches: map[string][]Brewed{"flash": batches}}), "retention:flash")
	}
	v := of(weighed(30, "left", 2.6)...)
	require.NotNil(t, v.Change)
	require.InDelta(t, 2.6, v.Change.Value, 0.1)
	require.Equal(t, 30, v.N)
	require.InDelta(t, 2.1, v.SetUp, 1e-9)
	require.Greater(t, v.Low, 2.1)
	require.Equal(t, "/beverages/flash/retained_ratio", v.Change.Set[0].Pointer)
	require.JSONEq(t, "2.1", string(v.Change.Set[0].From))

	require.Nil(t, of(weighed(30, "left", 2.1)...).Change, "the set-up is right")
	few := of(weighed(5, "left", 2.8)...)
	require.Nil(t, few.Change, "a handful proves nothing")
	require.Equal(t, models.LearntFew, few.Note)
	require.Nil(t, of(weighed(400, "left", 2.16)...).Change, "it is too little to matter")
}

func TestBrewersThatDifferAreShownInsteadOfOneChange(t *testing.T) {
	t.Parallel()
	batches := append(weighed(30, "left", 2.2), weighed(30, "right", 3.0)...)
	list := Values(testShop(), &Observed{Batches: map[string][]Brewed{"flash": batches}})
	v := find(t, list, "retention:flash")
	require.Nil(t, v.Change)
	require.Equal(t, models.LearntBrewersDiffer, v.Note)
	require.InDelta(t, 2.2, find(t, list, "retention:flash:left").Value, 0.15)
	require.InDelta(t, 3.0, find(t, list, "retention:flash:right").Value, 0.15)
}

func TestStrengthChangesTheYieldOfTheRecipe(t *testing.T) {
	t.Parallel()
	s := testShop()
	truth := *s
	truth.Beverages = slices.Clone(s.Beverages)
	truth.Beverages[0].MaxYieldPct = 19
	want := recipeOf(&truth.Beverages[0], 19).FinalTDSPct()
	var batches []Brewed
	for i := range 20 {
		batches = append(batches, Brewed{DoseG: 400, WaterG: 4500, IceG: 1500, TDSPct: want * (1 + 0.02*float64(i%3-1))})
	}
	v := find(t, Values(s, &Observed{Batches: map[string][]Brewed{"flash": batches}}), "strength:flash")
	require.InEpsilon(t, want, v.Value, 0.01)
	require.NotNil(t, v.Change)
	require.Equal(t, "/beverages/flash/max_yield_pct", v.Change.Set[0].Pointer)
	require.JSONEq(t, "21.8", string(v.Change.Set[0].From))
}

func TestSlowerCoolingIsSaidToBeAMatterOfSafety(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		ua   float64
		note string
	}{{15, models.LearntSlowerCooling}, {30, models.LearntFasterCooling}} {
		s := testShop()
		var readings []Cooled
		for i := range 20 {
			r := Cooled{MassG: 3000 + 100*float64(i%10), FromC: 80, ReadC: 10 + float64(i)}
			r.Minutes = chill.CoolingMinutes(r.MassG, r.FromC, r.AmbientC, c.ua, r.ReadC)
			readings = append(readings, r)
		}
		o := &Observed{Readings: map[string][]Cooled{"flash": readings}}
		v := find(t, Values(s, o), "cooling:flash")
		require.Equal(t, c.note, v.Note)
		require.Equal(t, "/beverages/flash/cooling_ua_w_per_k", v.Change.Set[0].Pointer)
		require.Len(t, v.Points, 2, "half and full batches")
		require.Less(t, v.Points[0].Value, v.Points[1].Value)
		require.Equal(t, c.ua < 22, v.Value > v.SetUp, "minutes")

		// A shop that has timed a batch instead gets a new time.
		s.Beverages[0].CoolingUAWPerK, s.Beverages[0].MeasuredCoolingMin = nil, new(45.0)
		v = find(t, Values(s, o), "cooling:flash")
		if v.Change != nil {
			require.Equal(t, "/beverages/flash/measured_cooling_min", v.Change.Set[0].Pointer)
			require.JSONEq(t, "45", string(v.Change.Set[0].From))
		}
	}
}

func TestHoldIsNeverLengthened(t *testing.T) {
	t.Parallel()
	s := testShop()
	value := func(hours float64) *models.LearntValue {
		var ends []Ended
		for range 20 {
			ends = append(ends, Ended{Hours: hours, Discarded: true})
		}
		return find(t, Values(s, &Observed{Ends: map[string][]Ended{"flash": ends}}), "hold:flash")
	}
	short := value(8.4)
	require.NotNil(t, short.Change)
	require.InDelta(t, 8, short.Change.Value, 1e-9, "rounded down to half an hour")
	require.Equal(t, models.LearntShorterHold, short.Note)
	require.Nil(t, value(18).Change, "longer is no suggestion")
	require.Nil(t, value(12).Change)
}

func TestIceMachineChange(t *testing.T) {
	t.Parallel()
	s := testShop()
	shop := inventedIce(rand.New(rand.NewPCG(3, 9)), iceTruth{output: 0.75, loss: 1, served: 1, days: 21, looks: 4})
	v := find(t, Values(s, &Observed{Ice: shop}), "ice_machine:bar")
	require.NotNil(t, v.Change)
	require.InEpsilon(t, 0.75, v.Value/v.SetUp, 0.08)
	require.Len(t, v.Points, 3)
	f := v.Change.Set[0]
	require.Equal(t, "/ice/makers/bar/kg_per_day_rated", f.Pointer)
	require.JSONEq(t, "36", string(f.From))

	s.Ice.Makers[0].Curve = []models.CurvePoint{{AirC: 20, WaterC: 10, KgPerDay: 36}, {AirC: 30, WaterC: 10, KgPerDay: 31}}
	v = find(t, Values(s, &Observed{Ice: shop}), "ice_machine:bar")
	require.Equal(t, "/ice/makers/bar/curve", v.Change.Set[0].Pointer)
}

// A machine whose output falls far faster in the heat than its rating says gets a curve.
func TestIceMachineThatSuffersInTheHeatGetsACurve(t *testing.T) {
	t.Parallel()
	fit := IceFit{AirC: [3]float64{17, 22, 30}, SlopeC: -0.02, SlopeSD: 0.003}
	require.True(t, fit.bent())
	f := machineChange(&testShop().Ice.Makers[0], &fit, [3]float64{1.0, 0.9, 0.7}, 10)
	require.Equal(t, "/ice/makers/bar/curve", f.Pointer)
	require.Contains(t, string(f.To), `"air_c":30`)
	fit.SlopeC = -0.001
	require.False(t, fit.bent())
	require.Equal(t, "/ice/makers/bar/kg_per_day_rated", machineChange(&testShop().Ice.Makers[0], &fit, [3]float64{0.9, 0.9, 0.9}, 10).Pointer)
}

// A normal distribution is known in closed form: of two correlated parameters, one known moves the other.
func TestTheRestFollowsFromWhatStaysAsItIs(t *testing.T) {
	t.Parallel()
	cov := [2][2]float64{{0.04, 0.03}, {0.03, 0.09}}
	logDensity := func(x []float64) float64 {
		a, b := x[0]-0.3, x[1]+0.2
		det := cov[0][0]*cov[1][1] - cov[0][1]*cov[0][1]
		return -(cov[1][1]*a*a - 2*cov[0][1]*a*b + cov[0][0]*b*b) / (2 * det)
	}
	g, ok := laplace(logDensity, []float64{0, 0}, []float64{0.1, 0.1})
	require.True(t, ok)
	require.InDeltaSlice(t, []float64{0.3, -0.2}, g.mode, 0.01)
	mean, sd := g.along([]float64{1, 1})
	require.InDelta(t, 0.1, mean, 0.01)
	require.InDelta(t, math.Sqrt(0.04+0.09+0.06), sd, 0.02)
	x, ok := g.given([]float64{math.NaN(), 0.1})
	require.True(t, ok)
	require.InDelta(t, 0.3+0.03/0.09*0.3, x[0], 0.02)
	require.InDelta(t, 0.1, x[1], 1e-12)
}

func TestRoundedKeepsSignificantDigits(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ x, want float64 }{{31.26, 31.3}, {2.4567, 2.46}, {123.4, 123}, {0, 0}, {0.8449, 0.845}, {100, 100}} {
		require.InDelta(t, c.want, rounded(c.x, 3), 1e-9)
	}
}
