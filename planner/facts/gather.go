package facts

import (
	"context"
	"fmt"
	"time"

	"hotday/models"
)

// GatherQuery selects the days to plan. Now is the plan's clock: counts, sales and marks of later times are not
// read.
type GatherQuery struct {
	Site string
	From models.Date
	Days int // 1 to 14
	Now  time.Time
	Seed int64 // 0: 1
}

// Gather builds a plan request from one consistent state of the store: set-up, expected demand, sales history, weather, events,
// equipment, the last stock counts with the changes since, today's sales, and batches under way. A site without a set-up is
// CodeNotFound, days out of range are CodeInvalid. Expected demand and forecast may both be empty; Compute then reports that there
// is no demand to plan for.
func Gather(ctx context.Context, store models.Store, q GatherQuery) (models.PlanRequest, error) {
	if q.Days < 1 || q.Days > 14 {
		return models.PlanRequest{}, models.Invalid("/days", "1 to 14", "%d days cannot be planned", q.Days)
	}
	if q.Seed == 0 {
		q.Seed = 1
	}
	var r models.PlanRequest
	err := store.Read(ctx, func(st models.Store) error {
		setup, _, err := st.Setup(ctx, q.Site)
		if err != nil {
			return err
		}
		g := &gathering{ctx: ctx, st: st, q: q, r: &r, today: setup.Site.ServiceDayOf(q.Now)}
		r = models.PlanRequest{Setup: setup, From: q.From, Days: q.Days, Now: q.Now, Seed: q.Seed}
		for _, stage := range []func() error{g.word, g.air, g.calendar, g.equipment, g.underWay, g.care, g.stock, g.soldToday, g.forecast} {
			if err := stage(); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return models.PlanRequest{}, fmt.Errorf("gather what a plan of %s follows from: %w", q.Site, err)
	}
	return r, nil
}

// gathering fills one request from one state of the store.
type gathering struct {
	ctx   context.Context
	st    models.Store
	q     GatherQuery
	r     *models.PlanRequest
	today models.Date // the service day that now belongs to

	events []models.Event // of the weeks that the forecast looks back on, and of the plan
	tasks  []markedTask

	curve  *curve                   // made by intraday
	off    map[string][]models.Span // by drink, read by offSpans
	closed []models.Span            // read by closures

	lead map[int64]time.Duration // by hour, from the issue of its forecast; set by air

	step func(share float64) // called with the fraction done of a long read; may be nil
}

func (g *gathering) report(share float64) {
	if g.step != nil {
		g.step(share)
	}
}

// until is the end of the horizon.
func (g *gathering) until() time.Time { return g.r.Site.DayEnd(g.q.From.AddDays(g.q.Days - 1)) }

// since is the start of the current service day, or now if that is earlier.
func (g *gathering) since() time.Time {
	at := g.today.At(0, g.r.Site.Location())
	if at.After(g.q.Now) {
		return g.q.Now
	}
	return at
}

// first is the first day whose demand the plan uses: today, if it begins later.
func (g *gathering) first() models.Date { return min(g.today, g.q.From) }

// word reads the manager's expected demand, from today on. Rows of drinks or day parts that are no longer in the set-up are left out.
func (g *gathering) word() error {
	list, err := g.st.ExpectedDemand(g.ctx, g.q.Site, g.first(), g.q.From.AddDays(g.q.Days))
	for _, d := range list {
		if d.Expected != nil && g.hasPart(d.DayPart) && g.hasDrink(d.Drink) {
			g.r.Demand = append(g.r.Demand, models.Demand{Date: d.Date, DayPart: d.DayPart, Drink: d.Drink, Expected: *d.Expected, P10: d.P10, P90: d.P90})
		}
	}
	return err
}

func (g *gathering) hasPart(code string) bool {
	for i := range g.r.Site.DayParts {
		if g.r.Site.DayParts[i].Code == code {
			return true
		}
	}
	return false
}

func (g *gathering) hasDrink(code string) bool {
	for i := range g.r.Drinks {
		if g.r.Drinks[i].Code == code {
			return true
		}
	}
	return false
}

// air reads the weather from the start of the day, as issued by now. If no forecast had been issued by then, it reads a later one:
// another issue is closer to the truth than none.
func (g *gathering) air() error {
	list, err := g.st.Weather(g.ctx, g.q.Site, g.since(), g.until(), g.q.Now)
	if err == nil && len(list) == 0 {
		list, err = g.st.Weather(g.ctx, g.q.Site, g.since(), g.until(), time.Time{})
	}
	g.lead = map[int64]time.Duration{}
	byHand := true
	for _, w := range list {
		g.r.Weather = append(g.r.Weather, w.WeatherHour)
		if w.Kind != models.WeatherForecast {
			continue
		}
		g.lead[w.At.Unix()/3600] = w.At.Sub(w.IssuedAt)
		// The age is that of the forecast; of the manager's number only where there is nothing else.
		if r := g.r.WeatherIssuedAt; r == nil || w.ByHand == byHand && w.IssuedAt.After(*r) || byHand && !w.ByHand {
			g.r.WeatherIssuedAt, byHand = &w.IssuedAt, w.ByHand
		}
	}
	return err
}

// calendar reads the events of the plan and, for the forecast, those of the weeks before.
func (g *gathering) calendar() (err error) {
	g.events, err = g.st.Events(g.ctx, g.q.Site, g.since().AddDate(0, 0, -7*weeksBack-1), g.until().AddDate(0, 0, 1)) // the eve of a holiday
	for _, e := range g.events {
		if e.To.After(g.since()) && e.From.Before(g.until()) {
			e.Name = models.OneLine(e.Name, 200) // stored before names had a rule
			g.r.Events = append(g.r.Events, e)
		}
	}
	return err
}

// equipment reads equipment that is out of order and the spans in which fewer people can start batches. Outages of equipment that
// is no longer in the set-up are left out.
func (g *gathering) equipment() error {
	list, err := g.st.Outages(g.ctx, g.q.Site, g.q.Now, g.until())
	if err != nil {
		return err
	}
	known := map[[2]string]bool{}
	for _, b := range g.r.Brewers {
		known[[2]string{"brewer", b.Code}] = true
	}
	for _, m := range g.r.Ice.Makers {
		known[[2]string{"maker", m.Code}] = true
	}
	for _, m := range g.r.Ice.Moulds {
		known[[2]string{"mould", m.Code}] = true
	}
	for _, o := range list {
		if o.Kind == "tank" || known[[2]string{o.Kind, o.Code}] {
			g.r.Outages = append(g.r.Outages, o)
		}
	}
	g.r.Attention, err = g.st.Attention(g.ctx, g.q.Site, g.q.Now, g.until())
	return err
}
