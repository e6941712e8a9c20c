package review

import (
	"hotday/models"
	"hotday/planner/margin"
)

// warmest is the highest temperature of the hours, °C; nil without hours.
func warmest(hours []models.WeatherHour) *float64 {
	if len(hours) == 0 {
		return nil
	}
	c := hours[0].TempC
	for _, h := range hours {
		c = max(c, h.TempC)
	}
	return &c
}

// drinksOf reviews each drink on a day.
func (f *Facts) drinksOf(d *Day, p *margin.Prices) []models.DrinkReview {
	out := make([]models.DrinkReview, len(f.Setup.Drinks))
	for i := range f.Setup.Drinks {
		x := &f.Setup.Drinks[i]
		r := models.DrinkReview{Drink: x.Code}
		for _, c := range d.Counts {
			if c.Drink != x.Code {
				continue
			}
			r.Sold += c.Servings
			said, known := forecastOf(d.Forecast, c.DayPart, x.Code)
			if !known {
				continue
			}
			r.Forecast = sumOf(r.Forecast, said)
			if c.OffSale && f.offSaleH(d.Date, c.DayPart, x.Code) > 0 {
				short := max(0, said-c.Servings)
				r.ShortOf, r.LostMoney = sumOf(r.ShortOf, short), sumOf(r.LostMoney, short*p.Missed(i, margin.Beverage))
			}
		}
		r.OffSaleH = f.offSaleH(d.Date, "", x.Code)
		out[i] = r
	}
	return out
}

// forecastOf is the mean that was forecast for a row before the day; ok is false if there was none.
func forecastOf(d *models.DayForecast, part, drink string) (servings float64, ok bool) {
	if d != nil {
		for _, r := range d.Rows {
			if r.DayPart == part && r.Drink == drink {
				return r.Expected(), true
			}
		}
	}
	return 0, false
}

// sumOf adds x to a sum that is nil until something is added.
func sumOf(p *float64, x float64) *float64 {
	if p != nil {
		x += *p
	}
	return &x
}

// offSaleH is the open hours of a day, or of a day part unless part is "", in which a drink was off sale.
func (f *Facts) offSaleH(d models.Date, part, drink string) float64 {
	site := &f.Setup.Site
	within := models.Span{From: d.At(0, site.Location()), To: site.DayEnd(d)}
	for _, p := range site.DayParts {
		if p.Code == part {
			within = site.DayPartSpan(d, p)
		}
	}
	var spans []models.Span
	for _, o := range f.Off {
		if o.Drink != drink {
			continue
		}
		s := models.Span{From: o.From, To: within.To}
		if o.To != nil {
			s.To = *o.To
		}
		if s = s.Overlap(within); !s.Empty() {
			spans = append(spans, s)
		}
	}
	h := 0.0
	for _, open := range site.OpenSpans(d) {
		for _, s := range models.Merged(spans) {
			if o := s.Overlap(open); !o.Empty() {
				h += o.To.Sub(o.From).Hours()
			}
		}
	}
	return h
}
