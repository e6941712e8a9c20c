package planner

import (
	"fmt"
	"testing"

	"hotday/models"
)

// wholeCase is a request on which the plan is compared with references that see whole drinks.
type wholeCase struct {
	name string
	r    models.PlanRequest
}

// wholeCases are days of a small shop on which one thing after another is scarce.
func wholeCases(t testing.TB) []wholeCase {
	t.Helper()
	var out []wholeCase
	add := func(name string, change func(r *models.PlanRequest)) {
		r := wholeDay()
		change(&r)
		if err := r.Validate(); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out = append(out, wholeCase{name, r})
	}
	add("free", func(*models.PlanRequest) {})
	add("short holds", func(r *models.PlanRequest) { r.Beverages[0].HoldH = 2.5 })
	add("wide ranges", func(r *models.PlanRequest) { spread(r, 0.4, 1.8) })
	add("small counts", func(r *models.PlanRequest) { expect(r, 7) })
	for _, kg := range []float64{24, 21, 14} {
		add(fmt.Sprintf("ice %g kg", kg), func(r *models.PlanRequest) { r.Ice.OpeningG = kg * 1000 })
	}
	add("store 3 kg", func(r *models.PlanRequest) { r.Site.StoreG = 3000 })
	add("store 5 kg", func(r *models.PlanRequest) { r.Site.StoreG = 5000 })
	add("two beverages", func(r *models.PlanRequest) { beverages(r, 2) })
	add("two beverages, ice 21 kg", func(r *models.PlanRequest) { beverages(r, 2); r.Ice.OpeningG = 21_000 })
	add("three beverages", func(r *models.PlanRequest) { beverages(r, 3) })
	add("three beverages, ice 24 kg", func(r *models.PlanRequest) { beverages(r, 3); r.Ice.OpeningG = 24_000 })
	add("scarce water", func(r *models.PlanRequest) { r.Water.OpeningL, r.Water.MakeLPerH = 8, 0.6 })
	add("few hands", func(r *models.PlanRequest) {
		r.Brewers[0].MaxBeverageG = 2500
		r.Site.ServeMin = 2.5
		r.Site.People = allDay(1)
		r.Site.WorkMin = &models.WorkMin{Brew: 12, BathFlash: 8, Store: 8}
	})
	return out
}

// wholeDay is the small shop on a busy day, without anything that makes ice, and sure of its brewing.
func wholeDay() models.PlanRequest {
	r := small()
	r.Coffees[0].Lots[0].Grams = 80_000
	expect(&r, 75)
	return r
}

// expect sets the demand of each drink in each part of the day, with ranges of −30 to +35 %.
func expect(r *models.PlanRequest, servings float64) {
	for i := range r.Demand {
		r.Demand[i].Expected = servings
	}
	spread(r, 0.7, 1.35)
}

// spread sets the ranges of demand as shares of what is expected.
func spread(r *models.PlanRequest, low, high float64) {
	for i := range r.Demand {
		d := &r.Demand[i]
		p10, p90 := d.Expected*low, d.Expected*high
		d.P10, d.P90 = &p10, &p90
	}
}

// beverages shares the demand among n beverages of different recipes and prices, each with its drink, on one brewer.
func beverages(r *models.PlanRequest, n int) {
	rows := r.Demand
	r.Demand = nil
	for i := range n {
		code := fmt.Sprintf("dune-%d", i)
		b := r.Beverages[0]
		b.Code, b.Name, b.IceShare = code, fmt.Sprintf("Dune %d", i), []float64{0.3, 0.2, 0.25}[i]
		d := r.Drinks[0]
		d.Code, d.Price, d.ServingIceG = "glass-"+code, []float64{420, 480, 380}[i], []float64{140, 110, 180}[i]
		d.Uses = []models.Use{{Beverage: code, G: []float64{180, 150, 200}[i]}}
		r.Beverages, r.Drinks = append(r.Beverages, b), append(r.Drinks, d)
		for _, row := range rows {
			share := []float64{0.5, 0.3, 0.2}[i] / []float64{0.5, 0.8, 1}[n-1]
			p10, p90 := *row.P10*share, *row.P90*share
			r.Demand = append(r.Demand, models.Demand{Date: row.Date, DayPart: row.DayPart, Drink: d.Code, Expected: row.Expected * share, P10: &p10, P90: &p90})
		}
		r.Brewers[0].Beverages = append(r.Brewers[0].Beverages, code)
	}
	r.Beverages, r.Drinks, r.Brewers[0].Beverages = r.Beverages[1:], r.Drinks[1:], r.Brewers[0].Beverages[1:]
}
