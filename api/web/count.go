package web

import (
	"context"
	"math"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/api/web/picture"
	"hotday/models"

	"hotday/planner/facts"
)

// countView is the page for counting stock, one item after the other.
type countView struct {
	head
	Now             time.Time
	Pounds, Gallons bool
	HalfDays        bool // 12-hour clock
	ZoneMinutes     int  // the site's UTC offset now
	Items           []countItem
}

// countItem is an item to count.
type countItem struct {
	amountEntry
	ID, Kind   string // Kind: ice, plain, tank, beverage, lot
	Name       string
	Detail     string // the batch or the place
	Care       string // safety caution for this item
	Says       string // the expected amount with its basis
	Beverage   string
	MadeAt     string // RFC 3339; "" for a beverage: to be entered from the label
	Lot, Place string
	Last       *lastCount // today's; nil: not counted today
}

// lastCount is the latest amount that was counted of an item, and what was expected then.
type lastCount struct {
	X, Expected float64 // in the unit Base
	Known       bool    // Expected is
	At          string  // RFC 3339
	Clock       string
}

// maxLots bounds the number of lots on the page.
const maxLots = 60

func (p *pages) count(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeKitchen, "count")
	if !ok {
		return
	}
	h.Scripts = []string{"count.js"}
	ctx, now := c.Request.Context(), p.Now()
	v := countView{head: h, Now: now, Pounds: h.voice.Pounds(), Gallons: h.voice.Gallons(), HalfDays: setup.Site.Shown().Clock == models.Clock12}
	_, ahead := now.In(setup.Site.Location()).Zone()
	v.ZoneMinutes = ahead / 60
	err := p.Store.Read(ctx, func(s models.Store) error {
		stock, err := expectedStock(ctx, s, setup.Site.Code, now)
		if err != nil {
			return err
		}
		v.addItems(stock)
		return v.addCounts(ctx, s, setup.Site)
	})
	if err != nil {
		p.renderError(c, err)
		return
	}
	p.render(c, http.StatusOK, "count", v)
}

// addItems adds all items, ice first, since it runs out first.
func (v *countView) addItems(stock stockExpected) {
	v.addIce(stock)
	v.addTank(stock)
	v.addBeverages(stock.PlanRequest)
	v.addLots(stock.PlanRequest)
}

func (v *countView) add(t countItem) {
	t.ID = t.Kind + "-" + strconv.Itoa(len(v.Items))
	v.Items = append(v.Items, t)
}

// stockExpected is what should be in stock at an instant: by the records and, for ice and the tank, by the plan of that time.
type stockExpected struct {
	models.PlanRequest
	plan models.Plan
	at   time.Time
}

// expectedStock returns what should have been in stock at an instant, by the counts before it and the latest plan made by then.
func expectedStock(ctx context.Context, s models.Store, site string, at time.Time) (x stockExpected, err error) {
	x.at = at
	if x.PlanRequest, err = facts.StockNow(ctx, s, site, at); err != nil {
		return x, err
	}
	heads, err := s.Plans(ctx, site, models.Page{Limit: plansLookedAt})
	if err != nil {
		return x, err
	}
	for _, h := range heads.Rows {
		if !h.ComputedAt.After(at) {
			x.plan, _, err = s.Plan(ctx, site, h.Revision)
			return x, err
		}
	}
	return x, nil
}

// plansLookedAt is how many of the newest plans may be later than a count of today.
const plansLookedAt = 200

// ice is the expected ice for drinks: by the plan, else by the records.
func (x *stockExpected) ice() (level models.IceLevel, planned bool) {
	if level, ok := picture.LevelAt(x.plan.Ice.Levels, x.at); ok {
		return level, true
	}
	return models.IceLevel{G: x.Ice.OpeningG}, false
}

// tank is the expected water in the tank, L: by the plan since it was made, else by the records; since is when the plan's level began.
func (x *stockExpected) tank() (l float64, since time.Time) {
	l = x.Water.OpeningL
	after := func(level float64, at time.Time) {
		if at.After(x.plan.ComputedAt) && !at.After(x.at) {
			l, since = level, at
		}
	}
	if x.plan.Tank != nil {
		for _, level := range x.plan.Tank.Levels {
			after(level.L, level.At)
		}
		return l, since
	}
	for _, d := range x.plan.Water { // a plan of an earlier version
		after(d.TankAfterL, partEnd(x.Site, d.Date, d.DayPart))
	}
	return l, since
}

func (v *countView) addIce(x stockExpected) {
	q, ice := v.voice, x.Ice
	level, planned := x.ice()
	says := v.basisText(q.GlanceMass(ice.OpeningG), ice.CountedAt)
	if planned {
		says = q.Say("count.expected.plan", "mass", q.GlanceMass(level.G))
		if low, high := q.GlanceMass(level.P10G), q.GlanceMass(level.P90G); low != high {
			says = q.Say("count.expected.plan_range", "mass", q.GlanceMass(level.G), "low", low, "high", high)
		}
	}
	v.add(countItem{Kind: "ice", Name: q.Say("picture.drink_ice"), Care: q.Say("count.care.ice"), Says: says, amountEntry: iceEntry(q, ice.BinG, level.G)})
	if ice.Plain.BinG > 0 || ice.Plain.CountedAt != nil || ice.Plain.OpeningG > 0 {
		v.add(countItem{Kind: "plain", Name: q.Say("setup.field.ice.plain"), Care: q.Say("count.care.plain"),
			Says: v.basisText(q.GlanceMass(ice.Plain.OpeningG), ice.Plain.CountedAt), amountEntry: iceEntry(q, ice.Plain.BinG, ice.Plain.OpeningG)})
	}
}

// iceEntry offers the levels of an ice bin of a size, or round amounts where the size is unknown.
func iceEntry(q voice, binG, expectedG float64) amountEntry {
	steps := largeSteps(q)
	if binG > 0 {
		steps = vesselSteps(steps)
	}
	e := newAmountEntry(q, "g", binG, max(expectedG, 10*largeStepG), steps)
	e.Expected = expectedG
	return e
}

const largeStepG = 1000

// basisText gives an expected amount with its basis, the last count or the set-up.
func (v *countView) basisText(amount string, at *time.Time) string {
	if at == nil {
		return v.voice.Say("count.expected.record", "amount", amount)
	}
	return v.voice.Say("count.expected.counted", "amount", amount, "when", v.voice.Near(*at, v.Now))
}

// addTank expects the tank's planned level now; of a plan of an earlier version, that at the end of the last finished day part.
func (v *countView) addTank(x stockExpected) {
	w, q := x.Water, v.voice
	if w.TankL <= 0 {
		return
	}
	expected, since := x.tank()
	says := q.Say("count.expected.record", "amount", q.Volume(expected))
	if !since.IsZero() {
		says = q.Say("count.expected.after", "amount", q.Volume(expected), "when", q.At(since))
	}
	e := newAmountEntry(q, "L", w.TankL, 0, vesselSteps(volumeSteps(q)))
	e.Max, e.Expected = w.TankL, expected
	v.add(countItem{Kind: "tank", Name: q.Say("count.tank"), Detail: q.Say("count.tank_holds", "amount", q.Volume(w.TankL)), Says: says, amountEntry: e})
}

func partEnd(site models.Site, d models.Date, part string) time.Time {
	for _, p := range site.DayParts {
		if p.Code == part {
			return site.DayPartSpan(d, p).To
		}
	}
	return time.Time{}
}

// leastMostG is the least amount that a list of round amounts of a beverage reaches.
const leastMostG = 4000

// addBeverages adds each expected batch and, for each beverage, one more for a batch that is not on record.
func (v *countView) addBeverages(there models.PlanRequest) {
	q := v.voice
	entry := func(g float64) amountEntry {
		e := newAmountEntry(q, "g", 0, max(g, leastMostG), massSteps(q))
		if jug := there.Site.JugG; jug > 0 {
			e.Named, e.Steps = jugAmounts(q, jug, g), jugSteps(q, jug)
		}
		e.Expected = g
		return e
	}
	for _, b := range there.Beverages {
		for _, s := range there.Stock {
			if s.Beverage != b.Code || s.G < 0.5 {
				continue
			}
			useBy := s.MadeAt.Add(time.Duration(min(b.HoldH, there.Site.MaxHoldH) * float64(time.Hour)))
			detail := q.Say("count.made", "when", q.Near(s.MadeAt, v.Now), "use_by", q.Near(useBy, v.Now))
			if !useBy.After(v.Now) {
				detail = q.Say("count.past", "when", q.Near(s.MadeAt, v.Now), "use_by", q.Near(useBy, v.Now))
			}
			v.add(countItem{Kind: "beverage", Name: nameOr(b.Name, b.Code), Detail: detail, Care: q.Say("count.care.beverage"), Beverage: b.Code,
				MadeAt: s.MadeAt.UTC().Format(time.RFC3339Nano), Says: q.Say("count.expected.sales", "amount", q.GlanceMass(s.G)), amountEntry: entry(s.G)})
		}
		v.add(countItem{Kind: "beverage", Name: nameOr(b.Name, b.Code), Detail: q.Say("count.another"), Care: q.Say("count.care.label"), Beverage: b.Code,
			Says: q.Say("count.expected.none"), amountEntry: entry(0)})
	}
}

func (v *countView) addLots(there models.PlanRequest) {
	q, n := v.voice, 0
	for _, coffee := range there.Coffees {
		for _, l := range coffee.Lots {
			if n++; n > maxLots {
				return
			}
			e := newAmountEntry(q, "g", 0, max(l.Grams, leastMostG), massSteps(q))
			e.Expected = l.Grams
			v.add(countItem{Kind: "lot", Name: q.Say("count.lot", "coffee", coffee.Code, "lot", l.Code), Detail: q.Say("count.roasted", "day", q.Day(l.RoastedOn.At(720, q.Location()))),
				Lot: l.Code, Place: l.Place, Says: q.Say("count.expected.record", "amount", q.GlanceMass(l.Grams)), amountEntry: e})
		}
	}
}

// clockSlack is how far the clock of a device that counts may be ahead.
const clockSlack = 5 * time.Minute

// maxCountTimes bounds how many counts of today are compared with what was expected at their time.
const maxCountTimes = 12

// addCounts adds to each item what was counted of it last today, and what was expected then.
func (v *countView) addCounts(ctx context.Context, s models.Store, site models.Site) error {
	counts, err := s.StockCounts(ctx, site.Code, site.DayEnd(site.ServiceDayOf(v.Now).AddDays(-1)), v.Now.Add(clockSlack))
	if err != nil {
		return err
	}
	expected := map[int64]stockExpected{}
	slices.Reverse(counts)
	for _, c := range counts {
		for i := range v.Items {
			t := &v.Items[i]
			x, ok := t.countedIn(c)
			if !ok || t.Last != nil {
				continue
			}
			t.Last = &lastCount{X: x, At: c.CountedAt.UTC().Format(time.RFC3339Nano), Clock: v.voice.Clock(c.CountedAt)}
			then, known := expected[c.CountedAt.UnixMilli()]
			if !known {
				if len(expected) >= maxCountTimes {
					continue
				}
				if then, err = expectedStock(ctx, s, site.Code, c.CountedAt.Add(-time.Millisecond)); err != nil {
					return err
				}
				expected[c.CountedAt.UnixMilli()] = then
			}
			t.Last.Expected, t.Last.Known = t.expectedIn(&then)
		}
	}
	return nil
}

// sameBatch is how far apart two times of making may lie that are the same, as a label says minutes.
const sameBatch = time.Second

// isOf reports whether stock is of an item's batch.
func (t *countItem) isOf(s models.Stock) bool {
	made, err := time.Parse(time.RFC3339Nano, t.MadeAt)
	return err == nil && s.Beverage == t.Beverage && s.MadeAt.Sub(made).Abs() < sameBatch
}

// countedIn returns the amount of an item in a count, in its unit Base.
func (t *countItem) countedIn(c models.StockCount) (float64, bool) {
	value := func(x *float64) (float64, bool) {
		if x == nil {
			return 0, false
		}
		return *x, true
	}
	switch t.Kind {
	case "ice":
		return value(c.IceG)
	case "plain":
		return value(c.PlainIceG)
	case "tank":
		return value(c.TankL)
	case "lot":
		if i := slices.IndexFunc(c.Lots, func(l models.LotCount) bool { return l.Lot == t.Lot }); i >= 0 {
			return c.Lots[i].Grams, true
		}
	case "beverage":
		if i := slices.IndexFunc(c.Beverages, t.isOf); i >= 0 {
			return c.Beverages[i].G, true
		}
	}
	return 0, false
}

// expectedIn returns the amount of an item that was expected, in its unit Base.
func (t *countItem) expectedIn(x *stockExpected) (float64, bool) {
	switch t.Kind {
	case "ice":
		level, _ := x.ice()
		return level.G, true
	case "plain":
		return x.Ice.Plain.OpeningG, true
	case "tank":
		l, _ := x.tank()
		return l, true
	case "lot":
		for _, coffee := range x.Coffees {
			for _, l := range coffee.Lots {
				if l.Code == t.Lot {
					return l.Grams, true
				}
			}
		}
	case "beverage":
		if i := slices.IndexFunc(x.Stock, t.isOf); i >= 0 {
			return x.Stock[i].G, true
		}
	}
	return math.NaN(), false
}

var roundOne = regexp.MustCompile(`\.0+(\x{202f})`)
