package demo

import (
	"iter"
	"math"
	"math/rand/v2"
	"time"

	"hotday/models"
)

// item is a till item with its model of sales.
type item struct {
	name    string
	drink   string  // empty: not mapped yet
	perDay  float64 // sales on an average weekday at 18 °C or below
	perC    float64 // growth of the logarithm of sales per °C above that
	morning float64 // weight of the morning curve; the afternoon curve has the rest
}

var items = []item{
	{"Iced house", "iced-house", 18, 0.032, 0.2},
	{"Iced house L", "iced-house-large", 9, 0.036, 0.1},
	{"Iced bright", "iced-bright", 9, 0.028, 0.3},
	{"House crushed", "crushed", 7, 0.045, 0},
	{"Steeped black", "steeped-black", 10, 0.030, 0.3},
	{"Steeped milk", "steeped-milk", 10, 0.026, 0.4},
	{"Steeped tonic", "steeped-tonic", 7, 0.042, 0},
	{"Iced milk coffee", "iced-milk-coffee", 16, 0.024, 0.6},
	{"Iced long", "iced-long", 7, 0.030, 0.4},
	{"Chilled cream", "chilled-cream", 5, 0.022, 0.1},
	{"Chilled orange", "chilled-orange", 5, 0.038, 0.1},
	{"Bottle 0.5", "bottle", 2, 0.020, 0.2},
	{"Trial: plum fizz", "", 3, 0.030, 0},
}

// weekdayFactor is sales by weekday relative to an average one.
var weekdayFactor = map[time.Weekday]float64{
	time.Monday: 0.80, time.Tuesday: 0.85, time.Wednesday: 0.92, time.Thursday: 0.97, time.Friday: 1.12, time.Saturday: 1.42, time.Sunday: 1.34,
}

// growthPerDay is the shop's daily growth as a share of the Saturday's sales: about a sixth over the season.
const growthPerDay = 0.0014

// trialFrom is the day, counted from the story's Saturday, on which the unmapped trial item was added to the till.
const trialFrom = -17

// Mappings maps every till item to its drink but one, which is left for the manager.
func Mappings() []models.ItemMapping {
	var out []models.ItemMapping
	for _, it := range items {
		if it.drink != "" {
			out = append(out, models.ItemMapping{Source: Source, Item: it.name, Drink: &it.drink, Factor: 1})
		}
	}
	return out
}

// mean is the item's expected sales on a whole day of the story.
func (it item) mean(day int, weekday time.Weekday) float64 {
	if it.drink == "" && day < trialFrom {
		return 0
	}
	above18 := max(0, maxTemp(day)-18)
	return it.perDay * weekdayFactor[weekday] * (1 + growthPerDay*float64(day)) * math.Exp(it.perC*above18)
}

// curve is the density of the item's sales at a clock time, per hour; it integrates to about 1 over 07:00–20:00.
func (it item) curve(hour float64) float64 {
	peak := func(at, width float64) float64 {
		return math.Exp(-(hour-at)*(hour-at)/(2*width*width)) / (width * math.Sqrt(2*math.Pi))
	}
	morning := 0.65*peak(9, 1.1) + 0.35*peak(13.2, 1.8)
	afternoon := 0.15*peak(9.3, 1.2) + 0.25*peak(12.3, 1.1) + 0.60*peak(15.2, 1.7)
	return it.morning*morning + (1-it.morning)*afternoon
}

const window = 15 * time.Minute

// Counts yields the counts of the history as a till would post them, oldest first, up to the last quarter of an hour that has
// ended. Windows without sales are left out.
func (s *Story) Counts() iter.Seq[models.SalesCount] {
	return func(yield func(models.SalesCount) bool) {
		site, last := s.Setup.Site, models.DateOf(s.Now, s.Setup.Site.Location())
		for d := s.firstDay(); d <= last; d = d.AddDays(1) {
			for _, open := range site.OpenSpans(d) {
				if !s.countsOf(d, open, yield) {
					return
				}
			}
		}
	}
}

// CountsBetween yields the counts whose windows ended after from and no later than to: what the till posts next.
func (s *Story) CountsBetween(from, to time.Time) iter.Seq[models.SalesCount] {
	later := *s
	later.Now = to
	return func(yield func(models.SalesCount) bool) {
		site := s.Setup.Site
		for d := site.ServiceDayOf(from); d <= models.DateOf(to, site.Location()); d = d.AddDays(1) {
			for _, open := range site.OpenSpans(d) {
				if !later.countsOf(d, open, func(c models.SalesCount) bool { return !c.WindowEnd.After(from) || yield(c) }) {
					return
				}
			}
		}
	}
}

func (s *Story) countsOf(d models.Date, open models.Span, yield func(models.SalesCount) bool) bool {
	day, loc := s.day(d), s.Setup.Site.Location()
	r := rand.New(rand.NewPCG(uint64(int64(day)), 12))
	level := math.Exp(0.09*r.NormFloat64() - 0.004)
	for from := open.From; from.Before(open.To); from = from.Add(window) {
		to, local := from.Add(window), from.In(loc)
		hour := float64(local.Hour()) + float64(local.Minute())/60 + 0.125
		for _, it := range items {
			n := poisson(r, level*it.mean(day, d.Weekday())*it.curve(hour)*window.Hours())
			if n == 0 || to.After(s.Now) {
				continue
			}
			if !yield(models.SalesCount{Item: it.name, WindowStart: from.UTC(), WindowEnd: to.UTC(), Count: float64(n)}) {
				return false
			}
		}
	}
	return true
}

// poisson draws by multiplying uniforms (Knuth); the means here are far below 30.
func poisson(r *rand.Rand, mean float64) int {
	limit, n := math.Exp(-mean), 0
	for p := r.Float64(); p > limit; p *= r.Float64() {
		n++
	}
	return n
}
