package review

import (
	"math"

	"hotday/models"
	"hotday/planner/ice"
	"hotday/planner/margin"
)

// advice lists the changes to equipment and batches that the days suggest.
func (f *Facts) advice(r *models.Review, p *margin.Prices) []models.Advice {
	out := []models.Advice{}
	out = append(out, f.iceAdvice(r, p)...)
	for k := range f.Setup.Beverages {
		out = append(out, f.pouredAdvice(r, k, p)...)
	}
	for k := range f.Setup.Drinks {
		if a, ok := offSaleAdvice(r, k); ok {
			out = append(out, a)
		}
	}
	return append(out, f.savingsAdvice(r)...)
}

// IceShortfall is the ice for drinks that was missing, g by day: the demand beyond the bin's content from the day before and the
// day's production. asked and made are demand and production by day, g; moreG is added to each day's production. The result is a
// lower bound: the bin, of binG g, is full before the first day, and its content at the end of a day melts at lossPctPH % an hour
// for a day.
func IceShortfall(asked, made []float64, binG, lossPctPH, moreG float64) (missing []float64) {
	level, keep := binG, math.Pow(1-lossPctPH/100, 24)
	for i := range asked {
		there := level + made[i] + moreG
		missing = append(missing, max(0, asked[i]-there))
		level = min(binG, max(0, there-asked[i])) * keep
	}
	return missing
}

// iceAdvice finds how much more ice a day would have been enough: from ice machines, and from each mould set if a few loads do.
func (f *Facts) iceAdvice(r *models.Review, p *margin.Prices) []models.Advice {
	var asked, made []float64
	freezing := f.freezingTimes()
	for i := range f.Days {
		d := &f.Days[i]
		if d.Closed || len(d.Observed) == 0 {
			continue
		}
		mean := 0.0
		for _, h := range d.Observed {
			mean += h.TempC / float64(len(d.Observed))
		}
		asked, made = append(asked, r.ByDay[i].Ice.DemandG), append(made, f.iceCapacity(d, mean, freezing)+r.ByDay[i].Ice.BoughtG)
	}
	if len(asked) < minIceDays {
		return nil
	}
	bin, loss := f.Setup.Ice.BinG, f.Setup.Ice.BinLossPctPH
	missing := IceShortfall(asked, made, bin, loss, 0)
	sum, worst, days := models.Sum(missing), 0.0, 0
	for _, g := range missing {
		worst = max(worst, g)
		if g > 0 {
			days++
		}
	}
	if days == 0 {
		return nil
	}
	low, high := 0.0, sum
	for range 40 { // bisection: the shortfall decreases in more
		if more := (low + high) / 2; models.Sum(IceShortfall(asked, made, bin, loss, more)) > 0 {
			low = more
		} else {
			high = more
		}
	}
	out := []models.Advice{{Kind: models.AdviceIceMaker, Days: days, Of: len(asked), Amount: high / 1000, Unit: "kg a day", Sum: sum / 1000, Worst: worst / 1000,
		Money: f.iceMoney(r, sum, p)}}
	for _, m := range f.Setup.Ice.Moulds {
		if loads := math.Ceil(high / m.LoadG); m.Treated && loads <= maxExtraLoads {
			out = append(out, models.Advice{Kind: models.AdviceMould, Subject: m.Code, Days: days, Of: len(asked), Amount: loads, Unit: "loads a day",
				Sum: sum / 1000, Worst: worst / 1000, Money: out[0].Money})
		}
	}
	return out
}

// maxExtraLoads is the most extra mould loads a day that are worth advising.
const maxExtraLoads = 4

// iceCapacity is the ice for drinks, g, that machines and moulds can make on a day with a mean air temperature of airC, °C: machines
// run all day; moulds, which take freezing min, are refilled as soon as they are frozen while people are there, and once for the night.
func (f *Facts) iceCapacity(d *Day, airC float64, freezing []float64) float64 {
	in, g := &f.Setup.Ice, 0.0
	for _, m := range in.Makers {
		if !m.Treated {
			continue
		}
		machine := ice.Maker{KgPerDayRated: m.KgPerDayRated, RatedAirC: m.RatedAirC, RatedWaterC: m.RatedWaterC}
		for _, p := range m.Curve {
			machine.Curve = append(machine.Curve, ice.Point(p))
		}
		g += 1000 * machine.KgPerDay(airC, in.InletWaterC)
	}
	people := 0.0
	for _, s := range f.Setup.Site.StaffSpans(d.Date) {
		people += s.To.Sub(s.From).Minutes()
	}
	for i := range in.Moulds {
		if minutes := freezing[i]; minutes > 0 && !math.IsInf(minutes, 1) {
			m := &in.Moulds[i]
			g += m.LoadG * float64(m.LoadsAtOnce) * min(math.Floor(people/minutes)+1, math.Floor(24*60/minutes))
		}
	}
	return g
}

// freezingTimes are the times that the mould sets take to freeze, min; 0 for one that does not freeze treated water.
func (f *Facts) freezingTimes() []float64 {
	in, out := &f.Setup.Ice, make([]float64, len(f.Setup.Ice.Moulds))
	for i := range in.Moulds {
		if m := &in.Moulds[i]; m.Treated {
			out[i] = ice.Mould{ThicknessMM: m.ThicknessMM, Geometry: ice.Geometry(m.Geometry), Sides: m.Sides, WaterC: in.InletWaterC, AirC: m.FreezerAirC,
				HWm2K: m.HWM2K, MassKg: m.LoadG / 1000 * float64(m.LoadsAtOnce), FreezerHeatW: m.FreezerHeatW}.Freeze().Minutes
		}
	}
	return out
}

// iceMoney is the cost of the sales missed for want of g g of ice, minor units, at the average of the drinks sold; nil without prices.
func (f *Facts) iceMoney(r *models.Review, g float64, p *margin.Prices) *float64 {
	money, iced := 0.0, 0.0
	for k := range f.Setup.Drinks {
		if perServing := f.Setup.Site.ServingIceUsedG(&f.Setup.Drinks[k]); perServing > 0 {
			money += r.Drinks[k].Sold * p.Missed(k, margin.Ice)
			iced += r.Drinks[k].Sold * perServing
		}
	}
	if money <= 0 || iced <= 0 {
		return nil
	}
	return new(g * money / iced)
}

// minPouredShare is the share poured away, of the beverage made, from which on advice is given.
const minPouredShare = 0.08

// pouredAdvice reports a beverage of which too much is poured away, and its smallest batch if half of that would have been poured
// away on half of the days or more.
func (f *Facts) pouredAdvice(r *models.Review, k int, p *margin.Prices) []models.Advice {
	sum := &r.Beverages[k]
	if sum.Days < minReportedDays || sum.MadeG == nil || *sum.MadeG <= 0 {
		return nil
	}
	smallest, brewer := math.Inf(1), ""
	for _, w := range f.Setup.Brewers {
		for _, b := range w.Beverages {
			if b == sum.Beverage && w.MinBeverageG < smallest {
				smallest, brewer = w.MinBeverageG, w.Code
			}
		}
	}
	gone, worst, days, atBatch, less := 0.0, 0.0, 0, 0, 0.0
	for i := range r.ByDay {
		b := &r.ByDay[i].Beverages[k]
		if b.Days == 0 {
			continue
		}
		g := *b.PouredG + *b.PastUseByG
		gone, worst = gone+g, max(worst, g)
		if g > 0 {
			days++
		}
		if g >= smallest/2 {
			atBatch++
			less += min(g, smallest/2)
		}
	}
	if gone < minPouredShare**sum.MadeG {
		return nil
	}
	out := []models.Advice{{Kind: models.AdvicePoured, Subject: sum.Beverage, Days: days, Of: sum.Days, Amount: gone / float64(sum.Days) / 1000, Unit: "kg",
		Sum: gone / 1000, Worst: worst / 1000, Money: priced(gone * p.PouredPerG(k))}}
	if smallest > 0 && 2*atBatch >= sum.Days {
		out = append(out, models.Advice{Kind: models.AdviceBatch, Subject: brewer, Days: atBatch, Of: sum.Days, Amount: smallest / 2 / 1000, Unit: "kg",
			Sum: less / 1000, Worst: worst / 1000, Money: priced(less * p.PouredPerG(k))})
	}
	return out
}

func priced(money float64) *float64 {
	if money <= 0 {
		return nil
	}
	return &money
}

func offSaleAdvice(r *models.Review, k int) (models.Advice, bool) {
	sum := &r.Drinks[k]
	if sum.ShortOf == nil || *sum.ShortOf < 1 {
		return models.Advice{}, false
	}
	days, worst := 0, 0.0
	for i := range r.ByDay {
		if s := r.ByDay[i].Drinks[k].ShortOf; s != nil && *s > 0 {
			days++
			worst = max(worst, *s)
		}
	}
	return models.Advice{Kind: models.AdviceOffSale, Subject: sum.Drink, Days: days, Of: r.Open, Amount: *sum.ShortOf, Unit: "servings", Sum: *sum.ShortOf,
		Worst: worst, Money: priced(*sum.LostMoney)}, true
}
