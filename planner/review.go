package planner

import (
	"context"
	"fmt"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/brew"
)

// MostReviewDays is the longest review: a season.
const MostReviewDays = 184

// pastFacts is everything that a review of days follows from.
type pastFacts struct {
	setup   models.Setup
	days    []factDay
	changes []models.StockChange
	counts  []models.StockCount
	off     []models.OffSale
	warned  []models.OpenWarning
	batches []madeBatch
	poured  []pouredMark
	record  *models.TrackRecord
}

type factDay struct {
	PastDay
	sheet *models.PrepSheet
	said  *models.SaidDay
}

// madeBatch is a batch that the marks say was made.
type madeBatch struct {
	date models.Date
	at   time.Time
	bev  string
	g    float64
}

// pouredMark is a task of throwing away that was done; g nil: nobody said how much.
type pouredMark struct {
	date models.Date
	bev  string
	g    *float64
}

// Review looks back on the days from a date on that are over at now, 1 to MostReviewDays of them, on one consistent state of the
// store. Days out of range are CodeInvalid.
func Review(ctx context.Context, store models.Store, site string, from models.Date, days int, now time.Time) (models.Review, error) {
	if days < 1 || days > MostReviewDays {
		return models.Review{}, models.Invalid("/days", fmt.Sprintf("1 to %d", MostReviewDays), "%d days cannot be looked back on", days)
	}
	var facts pastFacts
	err := store.Read(ctx, func(st models.Store) (err error) {
		facts, err = gatherFacts(ctx, st, site, from, days, now)
		return err
	})
	if err != nil {
		return models.Review{}, fmt.Errorf("look back on %s: %w", site, err)
	}
	return facts.review(from), nil
}

func gatherFacts(ctx context.Context, st models.Store, site string, from models.Date, days int, now time.Time) (f pastFacts, err error) {
	if f.setup, _, err = st.Setup(ctx, site); err != nil {
		return f, err
	}
	s := &f.setup.Site
	g := &gathering{ctx: ctx, st: st, q: GatherQuery{Site: site, Now: now}, r: &models.PlanRequest{Setup: f.setup}, today: s.ServiceDayOf(now)}
	to := min(from.AddDays(days), g.today)
	start, end := from.At(0, s.Location()), now
	if to > from {
		end = s.DayEnd(to.AddDays(-1))
	}
	if g.events, err = st.Events(ctx, site, start, end); err != nil {
		return f, err
	}
	mapped, err := g.mappedDrinks()
	if err != nil {
		return f, err
	}
	if f.off, err = g.offSaleIn(start, end); err != nil {
		return f, err
	}
	for d := from; d < to; d = d.AddDays(1) {
		if err := ctx.Err(); err != nil {
			return f, err
		}
		day, err := g.pastDay(d, mapped, f.off)
		if err != nil {
			return f, err
		}
		f.days = append(f.days, factDay{PastDay: day})
	}
	if f.changes, err = st.StockChanges(ctx, site, start, end); err != nil {
		return f, err
	}
	if f.counts, err = st.StockCounts(ctx, site, start, end); err != nil {
		return f, err
	}
	if f.warned, err = st.WarningsOpened(ctx, site, start.AddDate(0, 0, -14), end); err != nil {
		return f, err
	}
	if record, found, err := st.TrackRecord(ctx, site); err != nil {
		return f, err
	} else if found {
		f.record = &record
	}
	if err := f.said(ctx, st, from, to); err != nil {
		return f, err
	}
	return f, f.marked(ctx, st, from, to, now)
}

func (f *pastFacts) said(ctx context.Context, st models.Store, from, to models.Date) error {
	site := f.setup.Site.Code
	said, err := st.SaidDays(ctx, site, from, to)
	if err != nil {
		return err
	}
	sheets, err := st.Sheets(ctx, site, from, to)
	if err != nil {
		return err
	}
	for i := range f.days {
		d := &f.days[i]
		if k := slices.IndexFunc(said, func(s models.SaidDay) bool { return s.Date == d.Date }); k >= 0 {
			d.said = &said[k]
		}
		if k := slices.IndexFunc(sheets, func(s models.PrepSheet) bool { return s.Date == d.Date }); k >= 0 {
			d.sheet = &sheets[k]
		}
	}
	return nil
}

// marked reads off the marks which batches were made and what was thrown away.
func (f *pastFacts) marked(ctx context.Context, st models.Store, from, to models.Date, now time.Time) error {
	marks, err := st.Marks(ctx, f.setup.Site.Code, from, to)
	if err != nil {
		return err
	}
	known := map[string]models.Task{}
	for _, d := range f.days {
		if d.sheet != nil {
			for _, t := range d.sheet.Tasks {
				known[t.ID] = t
			}
		}
	}
	made := map[string]int{}
	for _, of := range byTask(marks, now) {
		m, ok := models.Standing(of)
		if !ok || m.State != models.Made {
			continue
		}
		t, ok := known[m.Task]
		if !ok { // of a sheet that was replaced: what was done was done
			if _, _, t, _, err = st.Task(ctx, m.Task); err != nil {
				return err
			}
		}
		if t.Kind == models.TaskDiscard {
			if bev := f.discarded(&t); bev != "" {
				f.poured = append(f.poured, pouredMark{f.setup.Site.ServiceDayOf(m.At), bev, m.BeverageG})
			}
			continue
		}
		if t.Batch == nil || (t.Kind == models.TaskBrew && !t.Batch.StrainAt.IsZero()) {
			continue // a steeped one is beverage when it is strained
		}
		b := madeBatch{f.setup.Site.ServiceDayOf(m.At), m.At, t.Batch.Beverage, t.Batch.BeverageG}
		if m.BeverageG != nil {
			b.g = *m.BeverageG
		}
		id := string(t.Batch.Date) + " " + t.Batch.ID
		if i, had := made[id]; !had {
			made[id] = len(f.batches)
			f.batches = append(f.batches, b)
		} else if m.BeverageG != nil || b.at.After(f.batches[i].at) {
			if m.BeverageG == nil {
				b.g = f.batches[i].g
			}
			f.batches[i] = b
		}
	}
	return nil
}

// discarded is the beverage of a task of throwing away: its batch's, else the one whose name its words begin with.
func (f *pastFacts) discarded(t *models.Task) string {
	if t.Batch != nil {
		return t.Batch.Beverage
	}
	for i := range f.setup.Beverages {
		b := &f.setup.Beverages[i]
		for _, name := range []string{b.Name, b.Code} {
			if name != "" && len(t.Say) > len(name) && t.Say[:len(name)] == name && t.Say[len(name)] == ':' {
				return b.Code
			}
		}
	}
	return ""
}

// review puts the facts together. It reads nothing more.
func (f *pastFacts) review(from models.Date) models.Review {
	out := models.Review{From: from, Days: len(f.days), ByDay: []models.ReviewDay{}, Warned: []models.WarnedReview{}, Advice: []models.Advice{},
		Notes: []string{}, Record: f.record}
	ledgers := map[string]*Ledger{}
	prices := newReviewPrices(&f.setup)
	for i := range f.days {
		d := &f.days[i]
		day := models.ReviewDay{Date: d.Date, Open: !d.Closed, WarmestC: warmest(d.Observed)}
		day.Drinks = f.drinksOf(d, prices)
		anyTold := false
		for k := range f.setup.Beverages {
			b, is := f.beverageOf(d, &f.setup.Beverages[k], ledgers, day.Drinks)
			anyTold = anyTold || is
			day.Beverages = append(day.Beverages, b)
		}
		day.Ice = f.iceOf(d, day)
		if day.Open {
			out.Open++
			if anyTold {
				out.Told++
			}
		}
		out.ByDay = append(out.ByDay, day)
	}
	out.Beverages, out.Drinks, out.Ice = sumBeverages(&f.setup, out.ByDay), sumDrinks(&f.setup, out.ByDay), sumIce(out.ByDay)
	out.Warned = f.warnings(out.ByDay)
	out.Advice = f.advice(&out, prices)
	out.Notes = notes(&out)
	return out
}

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

func (f *pastFacts) drinksOf(d *factDay, prices *reviewPrices) []models.DrinkReview {
	out := make([]models.DrinkReview, len(f.setup.Drinks))
	for i := range f.setup.Drinks {
		x := &f.setup.Drinks[i]
		r := models.DrinkReview{Drink: x.Code}
		for _, c := range d.Counts {
			if c.Drink != x.Code {
				continue
			}
			r.Sold += c.Servings
			said, known := saidOf(d.said, c.DayPart, x.Code)
			if !known {
				continue
			}
			r.Forecast = sumOf(r.Forecast, said)
			if c.OffSale && f.offSaleH(d.Date, c.DayPart, x.Code) > 0 {
				short := max(0, said-c.Servings)
				r.ShortOf, r.LostMoney = sumOf(r.ShortOf, short), sumOf(r.LostMoney, short*prices.contribution[i])
			}
		}
		r.OffSaleH = f.offSaleH(d.Date, "", x.Code)
		out[i] = r
	}
	return out
}

func saidOf(d *models.SaidDay, part, drink string) (float64, bool) {
	if d != nil {
		for _, r := range d.Rows {
			if r.DayPart == part && r.Drink == drink {
				return r.P50, true
			}
		}
	}
	return 0, false
}

func sumOf(p *float64, x float64) *float64 {
	if p != nil {
		x += *p
	}
	return &x
}

// offSaleH is how many open hours of a day, or of a part of it, a drink was off sale.
func (f *pastFacts) offSaleH(d models.Date, part, drink string) float64 {
	site := &f.setup.Site
	within := models.Span{From: d.At(0, site.Location()), To: site.DayEnd(d)}
	for _, p := range site.DayParts {
		if p.Code == part {
			within = site.PartSpan(d, p)
		}
	}
	var spans []models.Span
	for _, o := range f.off {
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
		for _, s := range merged(spans) {
			if o := s.Overlap(open); !o.Empty() {
				h += o.To.Sub(o.From).Hours()
			}
		}
	}
	return h
}

// beverageOf is a beverage on a day; told is false where the kitchen said nothing of it, and its book starts anew.
func (f *pastFacts) beverageOf(d *factDay, b *models.Beverage, ledgers map[string]*Ledger, drinks []models.DrinkReview) (_ models.BeverageReview, told bool) {
	site := &f.setup.Site
	in := ToldDay{Ends: site.DayEnd(d.Date), Hold: time.Duration(holdH(b, site) * float64(time.Hour))}
	open := site.OpenSpans(d.Date)
	if len(open) > 0 {
		in.Ends = open[len(open)-1].To
	}
	var short *float64
	for i := range f.setup.Drinks {
		for _, u := range f.setup.Drinks[i].Uses {
			if u.Beverage != b.Code {
				continue
			}
			in.SoldG += u.G * drinks[i].Sold
			if s := drinks[i].ShortOf; s != nil {
				short = sumOf(short, u.G**s)
			}
		}
	}
	for _, m := range f.batches {
		if m.bev == b.Code && m.date == d.Date {
			in.Made = append(in.Made, models.Stock{Beverage: b.Code, G: m.g, MadeAt: m.at})
			told = true
		}
	}
	for _, c := range f.changes {
		if c.Beverage == nil || *c.Beverage != b.Code || c.G == nil || site.ServiceDayOf(c.At) != d.Date {
			continue
		}
		told = true
		if c.Kind == "discarded" {
			in.PouredG += *c.G
		} else {
			in.Made = append(in.Made, models.Stock{Beverage: b.Code, G: *c.G, MadeAt: c.At})
		}
	}
	for _, p := range f.poured {
		if p.bev != b.Code || p.date != d.Date {
			continue
		}
		told = true
		if p.g != nil {
			in.PouredG += *p.g
		} else {
			in.PouredRest = true
		}
	}
	if f.foundIn(d.Date, open, b.Code, &in) {
		told = true
	}
	planned := plannedG(d.sheet, b.Code)
	if !told {
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

// foundIn takes the counts of a beverage before the doors opened and after they closed, each with an hour's grace; those between
// cannot be held against the day's sales as a whole.
func (f *pastFacts) foundIn(d models.Date, open []models.Span, bev string, in *ToldDay) (found bool) {
	if len(open) == 0 {
		return false
	}
	early, late := open[0].From.Add(time.Hour), open[len(open)-1].To.Add(-time.Hour)
	for _, c := range f.counts {
		if f.setup.Site.ServiceDayOf(c.CountedAt) != d {
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
			in.FoundFirst, found = &g, true
		case !c.CountedAt.Before(late):
			in.FoundLast, found = &g, true
		}
	}
	return found
}

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

// iceOf is the drink ice of a day.
func (f *pastFacts) iceOf(d *factDay, day models.ReviewDay) models.IceReview {
	var r models.IceReview
	for i := range f.setup.Drinks {
		r.AskedG += f.setup.Drinks[i].ServingIceG * day.Drinks[i].Sold
	}
	for i := range f.setup.Beverages {
		b, g := &f.setup.Beverages[i], day.Beverages[i].SoldG
		if m := day.Beverages[i].MadeG; m != nil {
			g = *m
		}
		r.AskedG += g * stirredPerG(b)
	}
	if d.sheet != nil {
		r.PlannedG = new(0.0)
		counted := map[[3]string]bool{}
		for _, t := range d.sheet.Tasks {
			if t.Quota == nil {
				continue
			}
			q := t.Quota
			key := [3]string{string(q.Date), q.DayPart, q.Maker} // a mould's quota stands on the task of each load
			if !counted[key] && f.treated(q.Maker) {
				counted[key] = true
				*r.PlannedG += q.MakeG
			}
		}
	}
	for _, c := range f.changes {
		if c.IceG == nil || f.setup.Site.ServiceDayOf(c.At) != d.Date {
			continue
		}
		switch c.Kind {
		case "discarded":
			r.ThrownG += *c.IceG
		case "bought_in":
			r.BoughtG += *c.IceG
		}
	}
	for _, c := range f.counts {
		if c.IceG != nil && f.setup.Site.ServiceDayOf(c.CountedAt) == d.Date && (r.LowestG == nil || *c.IceG < *r.LowestG) {
			r.LowestG = c.IceG
		}
	}
	return r
}

// stirredPerG is the ice stirred into a gram of finished beverage.
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

func (f *pastFacts) treated(maker string) bool {
	for _, m := range f.setup.Ice.Makers {
		if m.Code == maker {
			return m.Treated
		}
	}
	for _, m := range f.setup.Ice.Moulds {
		if m.Code == maker {
			return m.Treated
		}
	}
	return false
}
