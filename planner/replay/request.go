package replay

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/demand/forecast"
)

// plentyG is the stock of each coffee: one rested lot, more than any day needs, since beans are assumed to be bought in.
const plentyG = 1e6

// request is the plan request for days, made at now on the evening of dayBefore in the present state of the kitchen, without
// demand.
func (s *Season) request(k *kitchen, now time.Time, dayBefore *Day, days []Day) models.PlanRequest {
	r := models.PlanRequest{Setup: s.Setup, From: days[0].Date, Days: len(days), Now: now, Seed: 1, WeatherIssuedAt: &now}
	r.Coffees = slices.Clone(s.Coffees)
	for i := range r.Coffees {
		c := &r.Coffees[i]
		rested := int(math.Ceil(c.RestDaysMin)) + 1
		c.Lots = []models.BeanLot{{Code: c.Code, RoastedOn: days[0].Date.AddDays(-rested), Grams: plentyG, Place: "shelf"}}
	}
	r.Water.OpeningL = r.Water.TankL
	r.Ice.OpeningG, r.Ice.CountedAt, r.Ice.Plain.CountedAt = k.ice, &now, &now
	for i := range k.lots {
		if b := &k.lots[i]; b.g > 1e-6 {
			r.Stock = append(r.Stock, models.Stock{Beverage: s.Beverages[b.bev].Code, G: b.g, MadeAt: b.useBy.Add(-s.hold(b.bev))})
		}
	}
	for i := range k.brewing {
		b := &k.brewing[i]
		r.UnderWay = append(r.UnderWay, models.UnderWay{Task: fmt.Sprintf("batch %d", i+1), Kind: models.TaskBrew, State: models.Started, Start: b.start,
			Brewer: &b.brewer, Beverage: &s.Beverages[b.bev].Code, BeverageG: &b.g})
	}
	for i := range k.moulds {
		f := &k.moulds[i]
		r.UnderWay = append(r.UnderWay, models.UnderWay{Task: fmt.Sprintf("form %d", i+1), Kind: models.TaskIceFill, State: models.Started, Start: f.fillAt,
			Mould: &s.Ice.Moulds[f.mould].Code, G: &f.g})
	}
	loc := s.Site.Location()
	r.Weather = append(r.Weather, dayBefore.forecastWeather().hoursOf(dayBefore.Date, loc)...)
	for i := range days {
		d := &days[i]
		r.Weather = append(r.Weather, weatherAsForecast(days, i, loc).hoursOf(d.Date, loc)...)
		if !s.open(d) {
			r.Events = append(r.Events, models.Event{From: d.Date.At(0, loc), To: d.Date.AddDays(1).At(0, loc), Name: "closed", Closed: true, Factor: 1})
		}
	}
	return r
}

func (s *Season) hold(bev int) time.Duration {
	return time.Duration(min(s.Beverages[bev].HoldH, s.Site.MaxHoldH) * float64(time.Hour))
}

// addForecast adds the forecast ranges to the request.
func (s *Season) addForecast(r *models.PlanRequest, rows []row, days []Day, forecasts [][]forecast.Day) {
	for i := range days {
		for k, x := range rows {
			if s.serves(&days[i], x.part) {
				f := forecasts[i][k]
				r.Forecast = append(r.Forecast, models.Forecast{Date: days[i].Date, DayPart: s.Site.DayParts[x.part].Code, Drink: s.Drinks[x.drink].Code,
					Mean: f.Mean, Levels: levels, Quantiles: f.Quantiles})
			}
		}
	}
}

// addExact adds one number per row to the request, as if it were certain.
func (s *Season) addExact(r *models.PlanRequest, rows []row, day *Day, servings []float64) {
	for k, x := range rows {
		if n := servings[k]; s.serves(day, x.part) && !math.IsNaN(n) {
			r.Demand = append(r.Demand, models.Demand{Date: day.Date, DayPart: s.Site.DayParts[x.part].Code, Drink: s.Drinks[x.drink].Code,
				Expected: n, P10: &n, P90: &n})
		}
	}
}

// addSold adds the day's sales so far: the demand that was not missed.
func (s *Season) addSold(r *models.PlanRequest, d *Day, sim *simulation) {
	for _, p := range s.Site.DayParts {
		span := s.Site.DayPartSpan(d.Date, p)
		if !span.From.Before(r.Now) {
			continue
		}
		until := span.To
		if r.Now.Before(until) {
			until = r.Now
		}
		for x := range s.Drinks {
			n := 0.0
			for t := range sim.now {
				if at := sim.from.Add(time.Duration(t) * sim.slot); span.Contains(at) {
					n += sim.demand[x][t] - sim.missed[x][t]
				}
			}
			r.Sold = append(r.Sold, models.Sold{Date: d.Date, DayPart: p.Code, Drink: s.Drinks[x].Code, Count: max(0, n), Until: until})
		}
	}
}

// started is the kitchen without instructions that have not been started at now.
func (sim *simulation) started(now time.Time) *kitchen {
	k := *sim.k
	k.brewing, k.moulds = nil, nil
	for _, b := range sim.k.brewing {
		if b.start.Before(now) {
			k.brewing = append(k.brewing, b)
		}
	}
	for _, f := range sim.k.moulds {
		if f.fillAt.Before(now) {
			k.moulds = append(k.moulds, f)
		}
	}
	return &k
}

// plan makes the sheet for a request, limited to tasks that start before until, when the next sheet is made.
func (s *Season) plan(ctx context.Context, r *models.PlanRequest, until time.Time, o planner.Options) (sheet, error) {
	if len(r.Demand)+len(r.Forecast) == 0 {
		return sheet{}, nil
	}
	p, err := planner.ComputeWith(ctx, *r, o)
	if err != nil {
		return sheet{}, fmt.Errorf("plan of %s: %w", r.From, err)
	}
	return s.sheetOf(&p, r.Now, until), nil
}

// sheetOf extracts the tasks that start before until from a plan made at now.
func (s *Season) sheetOf(p *models.Plan, now, until time.Time) sheet {
	var out sheet
	for i := range p.Batches {
		b := &p.Batches[i]
		if b.State != models.Due || !b.Start.Before(until) {
			continue
		}
		x := batch{brewer: b.Brewer, bev: s.beverage(b.Beverage), start: b.Start, iceAt: b.IceAt, ready: b.Ready, useBy: b.UseBy, g: b.BeverageG, iceG: b.IceG}
		if k := slices.IndexFunc(p.Choices, func(c models.Choice) bool { return c.ID == b.Choice }); k >= 0 {
			x.choice = &p.Choices[k]
		}
		out.batches = append(out.batches, x)
	}
	for i := range p.Warnings {
		if w := &p.Warnings[i]; w.Kind == models.WarnIceShort && w.Grade == models.GradeActNow && !slices.Contains(w.Fields, "ice.plain") {
			out.iceShortSoonG += w.Amount * 1000
		}
	}
	for i := range p.Ice.Quotas {
		q := &p.Ice.Quotas[i]
		m := slices.IndexFunc(s.Ice.Moulds, func(m models.MouldSet) bool { return m.Code == q.Maker && m.Treated })
		if m < 0 {
			continue
		}
		for _, l := range q.Loads {
			if !l.FillAt.Before(now) && l.FillAt.Before(until) {
				out.moulds = append(out.moulds, mouldLoad{mould: m, fillAt: l.FillAt, emptyAt: l.TakeAt, g: l.G})
			}
		}
	}
	return out
}

func (s *Season) beverage(code string) int {
	return slices.IndexFunc(s.Beverages, func(b models.Beverage) bool { return b.Code == code })
}
