package mail

import (
	"time"

	"hotday/models"
)

// Review is the letter about the days of a review.
func (w Writer) Review(r models.Review) (Letter, error) {
	v := w.v
	noon := func(d models.Date) time.Time { return d.At(12*60, v.Location()) }
	days := v.Days(noon(r.From), noon(r.From.AddDays(r.Days-1)))
	p := page{Title: v.Say("mail.review.title", "days", days, "site", w.site())}
	p.Blocks = append(p.Blocks, block{Text: w.sold(r.Drinks)})
	if missed := w.missed(r.Drinks); missed != "" {
		p.Blocks = append(p.Blocks, block{Text: missed})
	}
	if made := w.made(r.Beverages); made != "" {
		p.Blocks = append(p.Blocks, block{Text: made})
	}
	if ice := w.ice(r.Ice); ice != "" {
		p.Blocks = append(p.Blocks, block{Text: ice})
	}
	for i := range r.ByDay {
		if d := &r.ByDay[i]; d.Open {
			text := w.sold(d.Drinks)
			if d.WarmestC != nil {
				text = v.Say("mail.review.high", "temp", v.WholeTemp(*d.WarmestC), "text", text)
			}
			p.Blocks = append(p.Blocks, block{At: v.Day(noon(d.Date)) + ":", Text: text})
		}
	}
	for _, n := range r.Notes {
		p.Blocks = append(p.Blocks, block{Text: n})
	}
	w.to(&p, "review", models.ScopeManage, "mail.to.review")
	return w.letter(p.Title, p)
}

// sold says how many drinks were sold, and how many the forecast had.
func (w Writer) sold(list []models.DrinkReview) string {
	sold, forecast, known := 0.0, 0.0, len(list) > 0
	for _, d := range list {
		sold += d.Sold
		if d.Forecast == nil {
			known = known && d.Sold == 0
			continue
		}
		forecast += *d.Forecast
	}
	if !known || forecast == 0 {
		return w.v.Say("mail.review.sold", "n", w.v.Servings(sold))
	}
	return w.v.Say("mail.review.sold_forecast", "n", w.v.Servings(sold), "forecast", w.v.Servings(forecast))
}

func (w Writer) missed(list []models.DrinkReview) string {
	missed, money, priced := 0.0, 0.0, false
	for _, d := range list {
		if d.ShortOf != nil {
			missed += *d.ShortOf
		}
		if d.LostMoney != nil {
			money, priced = money+*d.LostMoney, true
		}
	}
	switch {
	case missed < 0.5:
		return ""
	case priced:
		return w.v.Say("mail.review.missed_money", "n", w.v.Servings(missed), "money", w.v.WholeMoney(money, w.setup.Site.Currency))
	}
	return w.v.Say("mail.review.missed", "n", w.v.Servings(missed))
}

func (w Writer) made(list []models.BeverageReview) string {
	made, poured, known := 0.0, 0.0, false
	for _, b := range list {
		if b.MadeG != nil {
			made, known = made+*b.MadeG, true
		}
		if b.PouredG != nil {
			poured += *b.PouredG
		}
	}
	if !known {
		return ""
	}
	return w.v.Say("mail.review.made", "made", w.v.GlanceMass(made), "poured", w.v.GlanceMass(poured))
}

func (w Writer) ice(r models.IceReview) string {
	if r.DemandG == 0 && r.BoughtG == 0 {
		return ""
	}
	text := w.v.Say("mail.review.ice", "mass", w.v.GlanceMass(r.DemandG))
	if r.BoughtG > 0 {
		text += " " + w.v.Say("mail.review.ice_bought", "mass", w.v.GlanceMass(r.BoughtG))
	}
	if r.LowestG != nil {
		text += " " + w.v.Say("mail.review.ice_lowest", "mass", w.v.GlanceMass(*r.LowestG))
	}
	return text
}
