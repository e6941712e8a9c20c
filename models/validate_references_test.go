package models

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// oneDay is the valid request of testdata.
func oneDay(t *testing.T) PlanRequest {
	t.Helper()
	raw, err := edited(t, "", nil)
	require.NoError(t, err)
	var r PlanRequest
	require.NoError(t, DecodeStrict(raw, &r))
	return r
}

// faults returns the pointers of a validation error, none for nil.
func faults(t *testing.T, err error) []string {
	t.Helper()
	if err == nil {
		return nil
	}
	var e *Error
	require.True(t, errors.As(err, &e), "%v", err)
	require.Equal(t, CodeInvalid, e.Code)
	out := []string{}
	for _, f := range e.Fields {
		out = append(out, f.Pointer)
	}
	return out
}

func TestEveryReferenceAndRuleOfARequestIsChecked(t *testing.T) {
	t.Parallel()
	wrong := "nowhere"
	forecast := func(r *PlanRequest) Forecast {
		return Forecast{Date: r.From, DayPart: r.Site.DayParts[0].Code, Drink: r.Drinks[0].Code, Mean: 5, Levels: []float64{0.1, 0.9}, Quantiles: []float64{3, 8}}
	}
	underWay := func(r *PlanRequest) UnderWay { return UnderWay{Kind: "brew", State: "started", Start: r.Now} }
	for name, tc := range map[string]struct {
		change func(r *PlanRequest)
		want   []string
	}{
		"nothing wrong":                  {func(*PlanRequest) {}, nil},
		"a forecast in place of demand":  {func(r *PlanRequest) { r.Demand, r.Forecast = nil, []Forecast{forecast(r)} }, nil},
		"a forecast with equal values":   {func(r *PlanRequest) { f := forecast(r); f.Quantiles[1] = 3; r.Forecast = []Forecast{f} }, nil},
		"levels out of order":            {func(r *PlanRequest) { f := forecast(r); f.Levels[1] = 0.05; r.Forecast = []Forecast{f} }, []string{"/forecast/0/levels"}},
		"a level twice":                  {func(r *PlanRequest) { f := forecast(r); f.Levels[1] = 0.1; r.Forecast = []Forecast{f} }, []string{"/forecast/0/levels"}},
		"quantiles out of order":         {func(r *PlanRequest) { f := forecast(r); f.Quantiles[1] = 2; r.Forecast = []Forecast{f} }, []string{"/forecast/0/quantiles"}},
		"a quantile missing":             {func(r *PlanRequest) { f := forecast(r); f.Quantiles = f.Quantiles[:1]; r.Forecast = []Forecast{f} }, []string{"/forecast/0/quantiles"}},
		"a forecast twice":               {func(r *PlanRequest) { r.Forecast = []Forecast{forecast(r), forecast(r)} }, []string{"/forecast/1"}},
		"a forecast of an unknown drink": {func(r *PlanRequest) { f := forecast(r); f.Drink = wrong; r.Forecast = []Forecast{f} }, []string{"/forecast/0/drink"}},
		"only p90":                       {func(r *PlanRequest) { r.Demand[0].P10 = nil }, []string{"/demand/0/p10"}},
		"p10 and p90 of a row without an expectation": {func(r *PlanRequest) {
			lo, hi := 3.0, 8.0
			r.Demand[0].Expected, r.Demand[0].P10, r.Demand[0].P90 = 0, &lo, &hi
		}, nil},
		"p10, expected and p90 equal": {func(r *PlanRequest) {
			x := 7.0
			r.Demand[0].Expected, r.Demand[0].P10, r.Demand[0].P90 = x, &x, &x
		}, nil},
		"expected below p10": {func(r *PlanRequest) { r.Demand[0].Expected = 1 }, []string{"/demand/0/expected"}},
		"sold tomorrow": {func(r *PlanRequest) {
			r.Sold = []Sold{{Date: r.From, DayPart: wrong, Drink: wrong, Until: r.Now.Add(time.Minute)}}
		}, []string{"/sold/0/day_part", "/sold/0/drink", "/sold/0/until"}},
		"sold until now": {func(r *PlanRequest) {
			r.Sold = []Sold{{Date: r.From, DayPart: r.Site.DayParts[0].Code, Drink: r.Drinks[0].Code, Until: r.Now}}
		}, nil},
		"under way with equipment unknown": {func(r *PlanRequest) {
			u := underWay(r)
			u.Brewer, u.Beverage, u.Mould, u.Coffee, u.Start = &wrong, &wrong, &wrong, &wrong, r.Now.Add(time.Minute)
			r.UnderWay = []UnderWay{u}
		}, []string{"/under_way/0/brewer", "/under_way/0/beverage", "/under_way/0/mould", "/under_way/0/coffee", "/under_way/0/start"}},
		"under way since now": {func(r *PlanRequest) { r.UnderWay = []UnderWay{underWay(r)} }, nil},
		"outage of an unknown machine": {func(r *PlanRequest) {
			r.Outages = []Outage{{Kind: "maker", Code: wrong, From: r.Now, To: r.Now.Add(time.Hour)}, {Kind: "mould", Code: wrong, From: r.Now, To: r.Now.Add(time.Hour)},
				{Kind: "tank", From: r.Now, To: r.Now.Add(time.Hour)}}
		}, []string{"/outages/0/code", "/outages/1/code"}},
		"spans that are empty": {func(r *PlanRequest) {
			r.Attention = []Attention{{From: r.Now, To: r.Now}}
			r.Events = []Event{{From: r.Now, To: r.Now, Factor: 1}}
		}, []string{"/attention/0/to", "/events/0/to"}},
		"fourteen days ahead": {func(r *PlanRequest) { r.Now = r.Now.AddDate(0, 0, -14) }, nil},
		"fifteen days ahead":  {func(r *PlanRequest) { r.Now = r.Now.AddDate(0, 0, -15) }, []string{"/from"}},
		"a coffee twice":      {func(r *PlanRequest) { r.Coffees = append(r.Coffees, r.Coffees[0]) }, []string{"/coffees/1/code"}},
		"a beverage twice": {func(r *PlanRequest) { r.Beverages = append(r.Beverages, r.Beverages[0]) },
			[]string{"/beverages/1/code"}},
		"a drink twice":                 {func(r *PlanRequest) { r.Drinks = append(r.Drinks, r.Drinks[0]) }, []string{"/drinks/1/code"}},
		"a brewer twice":                {func(r *PlanRequest) { r.Brewers = append(r.Brewers, r.Brewers[0]) }, []string{"/brewers/1/code"}},
		"a lot three times":             {func(r *PlanRequest) { l := r.Coffees[0].Lots; r.Coffees[0].Lots = []BeanLot{l[0], l[0], l[0]} }, []string{"/coffees/0/lots/1/code", "/coffees/0/lots/2/code"}},
		"a dose of an unknown coffee":   {func(r *PlanRequest) { r.Drinks[0].Doses = []Dose{{Coffee: wrong, DoseG: 18}} }, []string{"/drinks/0/doses/0/coffee"}},
		"a salt twice":                  {func(r *PlanRequest) { r.Water.Salts = append(r.Water.Salts, r.Water.Salts[0]) }, []string{"/water/salts/3"}},
		"more water than the tank":      {func(r *PlanRequest) { r.Water.OpeningL = r.Water.TankL + 1 }, []string{"/water/opening_l"}},
		"a full tank":                   {func(r *PlanRequest) { r.Water.OpeningL = r.Water.TankL }, nil},
		"steeped for no time":           {func(r *PlanRequest) { r.Beverages[0].Method, r.Beverages[0].SteepH = Steeped, nil }, []string{"/beverages/0/steep_h"}},
		"hot-chilled with ice stirred":  {func(r *PlanRequest) { r.Beverages[0].Method, r.Beverages[0].IceShare = HotChilled, 0.2 }, []string{"/beverages/0/ice_share"}},
		"hot-chilled":                   {func(r *PlanRequest) { r.Beverages[0].Method, r.Beverages[0].IceShare = HotChilled, 0 }, nil},
		"rest longer than the maximum":  {func(r *PlanRequest) { r.Coffees[0].RestDaysMin = r.Coffees[0].RestDaysMax + 1 }, []string{"/coffees/0/rest_days_min"}},
		"frozen before roasting":        {func(r *PlanRequest) { l := &r.Coffees[0].Lots[0]; on := l.RoastedOn.AddDays(-1); l.FrozenOn = &on }, []string{"/coffees/0/lots/0/frozen_on"}},
		"frozen on the day of roasting": {func(r *PlanRequest) { l := &r.Coffees[0].Lots[0]; on := l.RoastedOn; l.FrozenOn = &on }, nil},
		"a brewer never available":      {func(r *PlanRequest) { r.Brewers[0].Available = []ClockSpan{{From: "09:00", To: "09:00"}} }, []string{"/brewers/0/available/0/to"}},
		"shops that open for no time":   {func(r *PlanRequest) { r.Site.Opening[0].To = r.Site.Opening[0].From }, []string{"/site/opening/0/to"}},
		"hours one after another": {func(r *PlanRequest) {
			r.Site.Opening = []Opening{{Weekday: "sat", From: "08:00", To: "12:00"}, {Weekday: "sat", From: "12:00", To: "19:00"}, {Weekday: "sun", From: "10:00", To: "19:00"}}
		}, nil},
		"night hours into the next span": {func(r *PlanRequest) {
			r.Site.Opening = []Opening{{Weekday: "sat", From: "20:00", To: "02:00"}, {Weekday: "sat", From: "01:59", To: "05:00"}}
		}, []string{"/site/opening/1"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := oneDay(t)
			tc.change(&r)
			assert.Equal(t, tc.want, faults(t, r.Validate()))
		})
	}
}

func TestASalesCountIsChecked(t *testing.T) {
	t.Parallel()
	start := time.Date(2026, 7, 11, 10, 0, 0, 0, time.UTC)
	long := make([]byte, 200)
	for i := range long {
		long[i] = 'x'
	}
	for name, tc := range map[string]struct {
		change func(c *SalesCount)
		want   []string
	}{
		"nothing wrong":       {func(*SalesCount) {}, nil},
		"nothing sold":        {func(c *SalesCount) { c.Count = 0 }, nil},
		"a million":           {func(c *SalesCount) { c.Count = 1e6 }, nil},
		"more than a million": {func(c *SalesCount) { c.Count = 1e6 + 1 }, []string{"/count"}},
		"less than none":      {func(c *SalesCount) { c.Count = -1 }, []string{"/count"}},
		"an item of 200":      {func(c *SalesCount) { c.Item = string(long) }, nil},
		"an item of 201":      {func(c *SalesCount) { c.Item = string(long) + "x" }, []string{"/item"}},
		"no item":             {func(c *SalesCount) { c.Item = "" }, []string{"/item"}},
		"no time":             {func(c *SalesCount) { c.WindowEnd = c.WindowStart }, []string{"/window_end"}},
		"the longest day":     {func(c *SalesCount) { c.WindowEnd = c.WindowStart.Add(25 * time.Hour) }, nil},
		"more than a day":     {func(c *SalesCount) { c.WindowEnd = c.WindowStart.Add(25*time.Hour + time.Second) }, []string{"/window_end"}},
		"a till's clock of 1980": {func(c *SalesCount) {
			c.WindowStart = c.WindowStart.AddDate(-46, 0, 0)
			c.WindowEnd = c.WindowEnd.AddDate(-46, 0, 0)
		}, []string{"/window_start"}},
		"the first of all sales": {func(c *SalesCount) {
			c.WindowStart = time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC)
			c.WindowEnd = c.WindowStart.Add(time.Hour)
		}, nil},
		"a clock two ages ahead": {func(c *SalesCount) {
			c.WindowStart = c.WindowStart.AddDate(200, 0, 0)
			c.WindowEnd = c.WindowEnd.AddDate(200, 0, 0)
		}, []string{"/window_start"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c := SalesCount{Item: "GLASS", WindowStart: start, WindowEnd: start.Add(15 * time.Minute), Count: 3}
			tc.change(&c)
			assert.Equal(t, tc.want, faults(t, c.Validate()))
		})
	}
	p := SalesPost{Counts: []SalesCount{{Item: "GLASS", WindowStart: start, WindowEnd: start.Add(time.Minute), Count: 3}}}
	assert.Equal(t, []string{"/source"}, faults(t, p.Validate()), "a till has a name")
	p.Source, p.Counts[0].Item = "till", ""
	assert.Equal(t, []string{"/counts/0/item"}, faults(t, p.Validate()))
}

func TestAnHourOfWeatherIsGivenOnce(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 7, 11, 10, 0, 0, 0, time.UTC)
	w := WeatherPost{Kind: "forecast", Hours: []WeatherHour{{At: at, TempC: 20}, {At: at.Add(time.Hour), TempC: 21}}}
	require.NoError(t, w.Validate())
	w.Hours[1].At = at.In(time.FixedZone("", 7200))
	assert.Equal(t, []string{"/hours/1/at"}, faults(t, w.Validate()), "the same instant on another clock")
}
