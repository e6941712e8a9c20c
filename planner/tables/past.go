package tables

import (
	"cmp"

	"hotday/models"
)

// Review returns the tables of a review by day: drinks, beverages and ice.
func Review(s models.Setup, r models.Review) []Table {
	l := layoutFor(s.Site)
	names := map[string]string{}
	for _, d := range s.Drinks {
		names[d.Code] = d.Name
	}
	beverage := beverageNames(s.Beverages)
	drinks := l.table("drinks", "day", "drink", "forecast", "sold", "off_sale", "missed")
	beverages := l.table("beverages", "day", "beverage", "planned", "opening", "made", "in_drinks", "poured", "left", "unexplained")
	ice := l.table("ice_used", "day", "planned", "needed", "bought", "thrown", "lowest")
	for _, day := range r.ByDay {
		if !day.Open {
			continue
		}
		date := string(day.Date)
		for _, d := range day.Drinks {
			drinks.add(date, cmp.Or(names[d.Drink], d.Drink), maybe(d.Forecast, number), number(d.Sold), number(d.OffSaleH), maybe(d.ShortOf, number))
		}
		for _, b := range day.Beverages {
			beverages.add(date, beverage(b.Beverage), maybe(b.PlannedG, l.mass), maybe(b.OpeningG, l.mass), maybe(b.MadeG, l.mass), l.mass(b.SoldG), maybe(b.PouredG, l.mass),
				maybe(b.LeftG, l.mass), maybe(b.UnexplainedG, l.mass))
		}
		ice.add(date, maybe(day.Ice.PlannedG, l.mass), l.mass(day.Ice.DemandG), l.mass(day.Ice.BoughtG), l.mass(day.Ice.ThrownG), maybe(day.Ice.LowestG, l.mass))
	}
	return []Table{drinks, beverages, ice}
}

// Counts returns sales counts as a table whose first columns can be imported again, so that their headings are the same in every
// language.
func Counts(site models.Site, rows []models.SalesRow) Table {
	l := layoutFor(site)
	t := Table{Code: "counts", Name: l.Say("file.table.counts"), Head: []string{"item", "start", "end", "count", "source", "drink", "factor"}}
	for _, r := range rows {
		var drink any
		if r.Drink != nil {
			drink = *r.Drink
		}
		t.add(r.Item, l.at(r.WindowStart), l.at(r.WindowEnd), r.Count, r.Source, drink, r.Factor)
	}
	return t
}

// Stock returns stock counts as a table, a row per thing that was counted, in the order in which they were.
func Stock(s models.Setup, counts []models.StockCount) Table {
	l := layoutFor(s.Site)
	beverage := beverageNames(s.Beverages)
	t := l.table("stock", "counted", "what", "made_at", "amount", "volume", "place")
	for _, c := range counts {
		at := l.at(c.CountedAt)
		if c.IceG != nil {
			t.add(at, l.Say("file.stock.ice"), nil, l.mass(*c.IceG), nil, nil)
		}
		if c.PlainIceG != nil {
			t.add(at, l.Say("file.stock.bath_ice"), nil, l.mass(*c.PlainIceG), nil, nil)
		}
		if c.TankL != nil {
			t.add(at, l.Say("file.stock.tank"), nil, nil, l.volume(*c.TankL), nil)
		}
		for _, b := range c.Beverages {
			t.add(at, beverage(b.Beverage), l.at(b.MadeAt), l.mass(b.G), nil, nil)
		}
		for _, b := range c.Lots {
			t.add(at, l.Say("file.stock.lot", "lot", b.Lot), nil, l.mass(b.Grams), nil, l.Say("file.place."+b.Place))
		}
	}
	return t
}
