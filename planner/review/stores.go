package review

import (
	"time"

	"hotday/models"
	"hotday/planner/brew"
)

// beverageOf reviews a beverage on a day. reported is false if the kitchen recorded nothing about it; its ledger then starts again.
func (f *Facts) beverageOf(d *Day, b *models.Beverage, ledgers map[string]*Ledger, drinks []models.DrinkReview) (_ models.BeverageReview, reported bool) {
	site := &f.Setup.Site
	in := DayRecord{Ends: site.DayEnd(d.Date), Hold: time.Duration(site.HoldH(b) * float64(time.Hour))}
	open := site.OpenSpans(d.Date)
	if len(open) > 0 {
		in.Ends = open[len(open)-1].To
	}
	var short *float64
	for i := range f.Setup.Drinks {
		for _, u := range f.Setup.Drinks[i].Uses {
			if u.Beverage != b.Code {
				continue
			}
			g := site.UsedG(u.G)
			in.SoldG += g * drinks[i].Sold
			if s := drinks[i].ShortOf; s != nil {
				short = sumOf(short, g**s)
			}
		}
	}
	for _, m := range f.Batches {
		if m.Bev == b.Code && m.Date == d.Date {
			in.Made = append(in.Made, models.Stock{Beverage: b.Code, G: m.G, MadeAt: m.At})
			reported = true
		}
	}
	for _, c := range f.Changes {
		if c.Beverage == nil || *c.Beverage != b.Code || c.G == nil || site.ServiceDayOf(c.At) != d.Date {
			continue
		}
		reported = true
		if c.Kind == "discarded" {
			in.PouredG += *c.G
		} else {
			in.Made = append(in.Made, models.Stock{Beverage: b.Code, G: *c.G, MadeAt: c.At})
		}
	}
	for _, p := range f.Poured {
		if p.Bev != b.Code || p.Date != d.Date {
			continue
		}
		reported = true
		if p.G != nil {
			in.PouredG += *p.G
		} else {
			in.PouredAllPast = true
		}
	}
	if f.countsOf(d.Date, open, b.Code, &in) {
		reported = true
	}
	planned := plannedG(d.Sheet, b.Code)
	if !reported {
		delete(ledgers, b.Code)
		return models.BeverageReview{Beverage: b.Code, PlannedG: planned, SoldG: in.SoldG, ShortG: short}, false
	}
	if ledgers[b.Code] == nil {
		ledgers[b.Code] = &Ledger{}
	}
	out := ledgers[b.Code].Day(in)
	out.Beverage, out.PlannedG, out.ShortG = b.Code, planned, short
	return out, true
}

// countsOf reads the counts of a beverage up to an hour after opening, as before opening, and from an hour before closing on, as after
// closing; those in between cannot be compared with the sales of the whole day.
func (f *Facts) countsOf(d models.Date, open []models.Span, bev string, in *DayRecord) (counted bool) {
	if len(open) == 0 {
		return false
	}
	early, late := open[0].From.Add(time.Hour), open[len(open)-1].To.Add(-time.Hour)
	for _, c := range f.Counts {
		if f.Setup.Site.ServiceDayOf(c.CountedAt) != d {
			continue
		}
		g, named := 0.0, false
		for _, s := range c.Beverages {
			if s.Beverage == bev {
				g, named = g+s.G, true
			}
		}
		switch {
		case !named:
		case !c.CountedAt.After(early):
			in.CountedFirst, counted = &g, true
		case !c.CountedAt.Before(late):
			in.CountedLast, counted = &g, true
		}
	}
	return counted
}

// plannedG is the beverage of a sheet's batches, g; nil without a sheet.
func plannedG(sheet *models.PrepSheet, bev string) *float64 {
	if sheet == nil {
		return nil
	}
	g := 0.0
	for _, t := range sheet.Tasks {
		if t.Kind == models.TaskBrew && t.Batch != nil && t.Batch.Beverage == bev {
			g += t.Batch.BeverageG
		}
	}
	return &g
}

// iceOf reviews the ice for drinks of a day.
func (f *Facts) iceOf(d *Day, day models.ReviewDay) models.IceReview {
	var r models.IceReview
	for i := range f.Setup.Drinks {
		r.DemandG += f.Setup.Site.ServingIceUsedG(&f.Setup.Drinks[i]) * day.Drinks[i].Sold
	}
	for i := range f.Setup.Beverages {
		b, g := &f.Setup.Beverages[i], day.Beverages[i].SoldG
		if m := day.Beverages[i].MadeG; m != nil {
			g = *m
		}
		r.DemandG += g * stirredPerG(b)
	}
	if d.Sheet != nil {
		r.PlannedG = new(0.0)
		counted := map[[3]string]bool{}
		for _, t := range d.Sheet.Tasks {
			if t.Quota == nil {
				continue
			}
			q := t.Quota
			key := [3]string{string(q.Date), q.DayPart, q.Maker} // the tasks of a mould's loads share a quota
			if !counted[key] && f.treated(q.Maker) {
				counted[key] = true
				*r.PlannedG += q.MakeG
			}
		}
	}
	for _, c := range f.Changes {
		if c.IceG == nil || f.Setup.Site.ServiceDayOf(c.At) != d.Date {
			continue
		}
		switch c.Kind {
		case "discarded":
			r.ThrownG += *c.IceG
		case "bought_in":
			r.BoughtG += *c.IceG
		}
	}
	for _, c := range f.Counts {
		if c.IceG != nil && f.Setup.Site.ServiceDayOf(c.CountedAt) == d.Date && (r.LowestG == nil || *c.IceG < *r.LowestG) {
			r.LowestG = c.IceG
		}
	}
	return r
}

// stirredPerG is the ice stirred in, g per g of finished beverage.
func stirredPerG(b *models.Beverage) float64 {
	if b.IceShare <= 0 {
		return 0
	}
	r := brew.Recipe{Ratio: b.Ratio, IceShare: b.IceShare, RetainedRatio: b.RetainedRatio, MaxYieldPct: b.MaxYieldPct}
	if per := r.FinishedPerDose(); per > 0 {
		return b.Ratio * b.IceShare / per
	}
	return 0
}

// treated reports whether an ice machine or a mould set makes ice for drinks.
func (f *Facts) treated(maker string) bool {
	for _, m := range f.Setup.Ice.Makers {
		if m.Code == maker {
			return m.Treated
		}
	}
	for _, m := range f.Setup.Ice.Moulds {
		if m.Code == maker {
			return m.Treated
		}
	}
	return false
}
