package models

import (
	"fmt"
	"slices"
	"strings"
)

// timedToC is the temperature to which a batch is timed for measured_cooling_min, °C.
const timedToC = 5

// Validate checks a set-up's value ranges and references. It returns a CodeInvalid *Error.
func (s *Setup) Validate() error {
	c := checker{}
	c.tags(s)
	c.setup(s)
	return c.err()
}

func (c *checker) setup(s *Setup) {
	c.site(&s.Site)
	unique(c, "/coffees", s.Coffees, func(x Coffee) string { return x.Code })
	unique(c, "/beverages", s.Beverages, func(x Beverage) string { return x.Code })
	unique(c, "/drinks", s.Drinks, func(x Drink) string { return x.Code })
	unique(c, "/brewers", s.Brewers, func(x Brewer) string { return x.Code })
	coffees := codes(s.Coffees, func(x Coffee) string { return x.Code })
	beverages := codes(s.Beverages, func(x Beverage) string { return x.Code })
	for i, x := range s.Coffees {
		c.coffee(fmt.Sprintf("/coffees/%d", i), &x)
	}
	for i, b := range s.Beverages {
		at := fmt.Sprintf("/beverages/%d", i)
		c.exists(at+"/coffee", b.Coffee, coffees, "coffee")
		c.recipe(at, &b)
		if ambient := surroundingsC(&b, &s.Site); b.MeasuredCoolingMin != nil && ambient >= timedToC {
			c.add(at+"/measured_cooling_min", "a bath or cold store colder than 5 °C", "at %g °C around it, a batch never gets to 5 °C", ambient)
		}
	}
	drinks := codes(s.Drinks, func(d Drink) string { return d.Code })
	for i, d := range s.Drinks {
		if at := fmt.Sprintf("/drinks/%d/like", i); d.Like == d.Code && d.Like != "" {
			c.add(at, "another drink", "a drink cannot stand in for itself")
		} else if d.Like != "" {
			c.exists(at, d.Like, drinks, "drink")
		}
		for k, u := range d.Uses {
			c.exists(fmt.Sprintf("/drinks/%d/uses/%d/beverage", i, k), u.Beverage, beverages, "beverage")
		}
		for k, u := range d.Doses {
			c.exists(fmt.Sprintf("/drinks/%d/doses/%d/coffee", i, k), u.Coffee, coffees, "coffee")
		}
	}
	for i, b := range s.Brewers {
		at := fmt.Sprintf("/brewers/%d", i)
		for k, code := range b.Beverages {
			c.exists(fmt.Sprintf("%s/beverages/%d", at, k), code, beverages, "beverage")
		}
		if b.MinBeverageG > b.MaxBeverageG {
			c.add(at+"/min_beverage_g", fmt.Sprintf("at most max_beverage_g, %g", b.MaxBeverageG), "%g g is more than the largest batch", b.MinBeverageG)
		}
		c.clockSpans(at+"/available", b.Available)
	}
	c.supplies(s)
	c.ice(&s.Ice)
	if s.Water.OpeningL > s.Water.TankL {
		c.add("/water/opening_l", fmt.Sprintf("at most tank_l, %g", s.Water.TankL), "%g L is more than the tank holds", s.Water.OpeningL)
	}
	for i, salt := range s.Water.Salts {
		if slices.Contains(s.Water.Salts[:i], salt) {
			c.add(fmt.Sprintf("/water/salts/%d", i), "each salt once", "%s is listed twice", salt)
		}
	}
}

func (c *checker) recipe(at string, b *Beverage) {
	if water := b.Ratio * (1 - b.IceShare); b.Ratio > 0 && b.IceShare < 1 && water <= b.RetainedRatio {
		c.add(at+"/ratio", fmt.Sprintf("more than %.2f at this ice share, or a smaller ice_share", b.RetainedRatio/(1-b.IceShare)),
			"too little water: %.2f g of brew water per g of coffee, and the grounds retain %.2f g", water, b.RetainedRatio)
	}
	if b.Method == Steeped && b.SteepH == nil {
		c.add(at+"/steep_h", "steeping time in hours, more than 0", "a steeped beverage needs a steeping time")
	}
	if b.Method == HotChilled && b.IceShare > 0 {
		c.add(at+"/ice_share", "0 for hot_chilled; use flash to stir in ice", "a hot_chilled beverage is brewed with all its water")
	}
	if b.Method == HotChilled && !b.Bath && b.CoolingUAWPerK == nil && b.MeasuredCoolingMin == nil {
		c.add(at+"/bath", "true: use an ice bath; or measured_cooling_min: time how long a full batch takes from 60 °C to 5 °C",
			"hot coffee goes straight into the cold store, and nobody has measured how fast it cools there")
	}
	if b.RestTempC != nil && *b.RestTempC > b.BrewerOutTempC {
		c.add(at+"/rest_temp_c", fmt.Sprintf("at most brewer_out_temp_c, %g", b.BrewerOutTempC), "%g °C is warmer than out of the brewer", *b.RestTempC)
	}
}

func (c *checker) coffee(at string, x *Coffee) {
	if x.RestDaysMin > x.RestDaysMax {
		c.add(at+"/rest_days_min", fmt.Sprintf("at most rest_days_max, %g", x.RestDaysMax), "%g days is more than the maximum", x.RestDaysMin)
	}
	unique(c, at+"/lots", x.Lots, func(l BeanLot) string { return l.Code })
	for i, l := range x.Lots {
		p := fmt.Sprintf("%s/lots/%d", at, i)
		if l.OpenG > l.Grams {
			c.add(p+"/open_g", fmt.Sprintf("at most grams, %g", l.Grams), "the open bag holds more than the whole lot")
		}
		if l.FrozenOn != nil && *l.FrozenOn < l.RoastedOn {
			c.add(p+"/frozen_on", "a date on or after roasted_on", "frozen before it was roasted")
		}
	}
}

func (c *checker) ice(ice *Ice) {
	var all []string
	for i, m := range ice.Makers {
		at := fmt.Sprintf("/ice/makers/%d", i)
		c.uniqueAmong(at+"/code", m.Code, &all)
		if m.KgPerDayRated == 0 && len(m.Curve) == 0 {
			c.add(at+"/kg_per_day_rated", "more than 0, or a curve", "the ice machine has neither a rating nor a curve")
		}
	}
	for i, m := range ice.Moulds {
		c.uniqueAmong(fmt.Sprintf("/ice/moulds/%d/code", i), m.Code, &all)
	}
}

// uniqueAmong checks codes across ice machines and mould sets, since quotas refer to either by code alone.
func (c *checker) uniqueAmong(pointer, code string, all *[]string) {
	if slices.Contains(*all, code) {
		c.add(pointer, "a code that no other ice machine or mould set has", "%q is used twice", code)
	}
	*all = append(*all, code)
}

func (c *checker) site(s *Site) {
	unique(c, "/site/day_parts", s.DayParts, func(p DayPart) string { return p.Code })
	for i, p := range s.DayParts {
		at := fmt.Sprintf("/site/day_parts/%d", i)
		if p.From == p.To {
			c.add(at+"/to", "a time after from", "the day part is empty: it starts and ends at %s", p.From)
			continue
		}
		for k, q := range s.DayParts[:i] {
			if q.From != q.To && overlap(s.PartStart(p), p, s.PartStart(q), q) {
				c.add(at, "day parts that do not overlap", "%s %s–%s overlaps /site/day_parts/%d, %s %s–%s", p.Code, p.From, p.To, k, q.Code, q.From, q.To)
			}
		}
	}
	c.people(s.People)
	c.care(s.Care)
	c.weather(s)
	for i, o := range s.Opening {
		at := fmt.Sprintf("/site/opening/%d", i)
		switch {
		case o.Date == nil && o.Weekday == "":
			c.add(at+"/weekday", "mon, tue, wed, thu, fri, sat or sun, or a date", "the hours have neither a weekday nor a date")
		case o.Date != nil && o.Weekday != "":
			c.add(at+"/date", "a weekday or a date, not both", "the hours are for both %s and %s", o.Weekday, *o.Date)
		}
		if o.From == o.To {
			c.add(at+"/to", "a time other than from; 00:00 to 24:00 is the whole day", "the shop would open and close at %s", o.From)
			continue
		}
		for k, q := range s.Opening[:i] {
			if strings.EqualFold(o.Weekday, q.Weekday) && (o.Date == nil) == (q.Date == nil) && (o.Date == nil || *o.Date == *q.Date) && q.From != q.To &&
				overlap(o.From.Minutes(), DayPart{From: o.From, To: o.To}, q.From.Minutes(), DayPart{From: q.From, To: q.To}) {
				c.add(at, "hours that do not overlap on the same day", "overlaps /site/opening/%d", k)
			}
		}
	}
}

func (c *checker) clockSpans(at string, spans []ClockSpan) {
	for i, s := range spans {
		if s.From == s.To {
			c.add(fmt.Sprintf("%s/%d/to", at, i), "a time other than from; 00:00 to 24:00 is the whole day", "the span is empty: it starts and ends at %s", s.From)
		}
	}
}

// overlap reports whether two spans, given in minutes from midnight, overlap, also a day apart for those that run past midnight.
func overlap(fromA int, a DayPart, fromB int, b DayPart) bool {
	length := func(p DayPart) int { return (p.To.Minutes()-p.From.Minutes()+1439)%1440 + 1 }
	toA, toB := fromA+length(a), fromB+length(b)
	for _, shift := range []int{-1440, 0, 1440} {
		if fromA+shift < toB && fromB < toA+shift {
			return true
		}
	}
	return false
}

func unique[T any](c *checker, at string, list []T, code func(T) string) {
	seen := make(map[string]int, len(list))
	for i, x := range list {
		k := code(x)
		if first, twice := seen[k]; twice {
			c.add(fmt.Sprintf("%s/%d/code", at, i), "a unique code", "%q is also the code of %s/%d", k, at, first)
			continue
		}
		seen[k] = i
	}
}

func codes[T any](list []T, code func(T) string) []string {
	out := make([]string, 0, len(list))
	for _, x := range list {
		out = append(out, code(x))
	}
	return out
}

func (c *checker) exists(pointer, code string, among []string, noun string) {
	if slices.Contains(among, code) {
		return
	}
	accepted := "the code of an existing " + noun
	if n := len(among); n > 0 && n <= 12 {
		accepted = "one of " + strings.Join(among, ", ")
	}
	c.add(pointer, accepted, "there is no %s %q", noun, short(code))
}

// surroundingsC is the temperature around a beverage while it cools, °C.
func surroundingsC(b *Beverage, s *Site) float64 {
	if b.Bath {
		return b.BathTempC
	}
	return s.StoreTempC
}
