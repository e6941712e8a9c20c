package web

import (
	"math"
	"net/http"
	"regexp"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/api/web/picture"
	"hotday/models"

	"hotday/planner/facts"
	"hotday/planner/say"
)

// countView is the page for counting stock, one item after the other.
type countView struct {
	head
	Now             time.Time
	Pounds, Gallons bool
	ZoneMinutes     int // the site's UTC offset now
	Items           []countItem
}

// countItem is an item to count. Amounts are in the unit Base.
type countItem struct {
	ID, Kind   string // Kind: ice, plain, tank, beverage, lot
	Name       string
	Detail     string  // the batch or the place
	Care       string  // safety caution for this item
	Unit       string  // of the input field
	Per        float64 // Base units in one Unit
	Base       string  // "g" or "L"
	Full       float64 // capacity; 0: unknown
	Max        float64 // largest possible amount; 0: no limit
	Level      bool    // can be counted as a fill level
	Expected   float64
	Says       string // the expected amount with its basis; shown only after counting
	Steps      []massStep
	Beverage   string
	MadeAt     string // RFC 3339; "" for a beverage: to be entered from the label
	Lot, Place string
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
	v := countView{head: h, Now: now, Pounds: h.voice.Pounds(), Gallons: h.voice.Gallons()}
	_, ahead := now.In(setup.Site.Location()).Zone()
	v.ZoneMinutes = ahead / 60
	err := p.Store.Read(ctx, func(s models.Store) error {
		there, err := facts.StockNow(ctx, s, setup.Site.Code, now)
		if err != nil {
			return err
		}
		plan, _, err := s.LatestPlan(ctx, setup.Site.Code)
		if err != nil && models.CodeOf(err) != models.CodeNotFound {
			return err
		}
		v.addItems(there, plan)
		return nil
	})
	if err != nil {
		p.renderError(c, err)
		return
	}
	p.render(c, http.StatusOK, "count", v)
}

// addItems adds all items, ice first, since it runs out first.
func (v *countView) addItems(there models.PlanRequest, plan models.Plan) {
	v.addIce(there, plan)
	v.addTank(there, plan)
	v.addBeverages(there)
	v.addLots(there)
}

func (v *countView) add(t countItem) {
	q := v.voice
	t.ID = t.Kind + "-" + strconv.Itoa(len(v.Items))
	if t.Base == "" {
		t.Base = "g"
	}
	if t.Unit == "" {
		t.Unit = q.MassUnit()
	}
	t.Per = say.Per(t.Unit)
	if t.Steps == nil {
		t.Steps = massSteps(q)
	}
	v.Items = append(v.Items, t)
}

func (v *countView) addIce(there models.PlanRequest, plan models.Plan) {
	q, ice := v.voice, there.Ice
	drink := countItem{Kind: "ice", Name: q.Say("count.ice"), Care: q.Say("count.care.ice"), Full: ice.BinG, Level: ice.BinG > 0, Expected: ice.OpeningG,
		Says: v.basisText(q.GlanceMass(ice.OpeningG), ice.CountedAt), Steps: largeSteps(q)}
	if level, ok := picture.LevelAt(plan.Ice.Levels, v.Now); ok {
		drink.Expected = level.G
		drink.Says = q.Say("count.expected.plan", "mass", q.GlanceMass(level.G))
		if low, high := q.GlanceMass(level.P10G), q.GlanceMass(level.P90G); low != high {
			drink.Says = q.Say("count.expected.plan_range", "mass", q.GlanceMass(level.G), "low", low, "high", high)
		}
	}
	v.add(drink)
	if ice.Plain.BinG > 0 || ice.Plain.CountedAt != nil || ice.Plain.OpeningG > 0 {
		v.add(countItem{Kind: "plain", Name: q.Say("count.plain"), Care: q.Say("count.care.plain"), Full: ice.Plain.BinG, Level: ice.Plain.BinG > 0,
			Expected: ice.Plain.OpeningG, Says: v.basisText(q.GlanceMass(ice.Plain.OpeningG), ice.Plain.CountedAt), Steps: largeSteps(q)})
	}
}

// basisText gives an expected amount with its basis, the last count or the set-up.
func (v *countView) basisText(amount string, at *time.Time) string {
	if at == nil {
		return v.voice.Say("count.expected.record", "amount", amount)
	}
	return v.voice.Say("count.expected.counted", "amount", amount, "when", v.voice.Near(*at, v.Now))
}

// addTank expects the tank's planned level now; of a plan of an earlier version, that at the end of the last finished day part.
func (v *countView) addTank(there models.PlanRequest, plan models.Plan) {
	w, q := there.Water, v.voice
	if w.TankL <= 0 {
		return
	}
	expected, says := w.OpeningL, q.Say("count.expected.record", "amount", q.Volume(w.OpeningL))
	after := func(l float64, at time.Time) {
		if at.After(plan.ComputedAt) && !at.After(v.Now) {
			expected, says = l, q.Say("count.expected.after", "amount", q.Volume(l), "when", q.At(at))
		}
	}
	if plan.Tank != nil {
		for _, l := range plan.Tank.Levels {
			after(l.L, l.At)
		}
	} else {
		for _, d := range plan.Water {
			after(d.TankAfterL, partEnd(there.Site, d.Date, d.DayPart))
		}
	}
	steps := []massStep{{-5, ""}, {-1, ""}, {1, ""}, {5, ""}}
	if q.Gallons() {
		gal := say.Per("gal")
		steps = []massStep{{-gal, ""}, {-gal / 4, ""}, {gal / 4, ""}, {gal, ""}}
	}
	for i, s := range steps {
		steps[i].Say = signed(s.G, q.Volume(math.Abs(s.G)))
	}
	v.add(countItem{Kind: "tank", Name: q.Say("count.tank"), Detail: q.Say("count.tank_holds", "amount", q.Volume(w.TankL)), Unit: q.VolumeUnit(), Base: "L",
		Full: w.TankL, Max: w.TankL, Level: true, Expected: expected, Says: says, Steps: steps})
}

func partEnd(site models.Site, d models.Date, part string) time.Time {
	for _, p := range site.DayParts {
		if p.Code == part {
			return site.DayPartSpan(d, p).To
		}
	}
	return time.Time{}
}

// addBeverages adds each expected batch and, for each beverage, one more for a batch that is not on record.
func (v *countView) addBeverages(there models.PlanRequest) {
	q := v.voice
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
				MadeAt: s.MadeAt.UTC().Format(time.RFC3339Nano), Expected: s.G, Says: q.Say("count.expected.sales", "amount", q.GlanceMass(s.G))})
		}
		v.add(countItem{Kind: "beverage", Name: nameOr(b.Name, b.Code), Detail: q.Say("count.another"), Care: q.Say("count.care.label"), Beverage: b.Code,
			Says: q.Say("count.expected.none")})
	}
}

func (v *countView) addLots(there models.PlanRequest) {
	q, n := v.voice, 0
	for _, coffee := range there.Coffees {
		for _, l := range coffee.Lots {
			if n++; n > maxLots {
				return
			}
			v.add(countItem{Kind: "lot", Name: q.Say("count.lot", "coffee", coffee.Code, "lot", l.Code), Detail: q.Say("count.roasted", "day", q.Day(l.RoastedOn.At(720, q.Location()))),
				Lot: l.Code, Place: l.Place, Expected: l.Grams, Says: q.Say("count.expected.record", "amount", q.GlanceMass(l.Grams)), Steps: massSteps(q)})
		}
	}
}

var roundOne = regexp.MustCompile(`\.0+(\x{202f})`)

// largeSteps are the steps for ice: about a scoop and a bucket.
func largeSteps(q voice) []massStep {
	small, large := 1000.0, 5000.0
	if q.Pounds() {
		small, large = say.Per("lb"), 10*say.Per("lb")
	}
	steps := []massStep{{-large, ""}, {-small, ""}, {small, ""}, {large, ""}}
	for i, s := range steps {
		steps[i].Say = signed(s.G, q.GlanceMass(math.Abs(s.G)))
	}
	return steps
}

// signed adds a plus or minus sign to an amount and drops a decimal .0.
func signed(x float64, amount string) string {
	amount = roundOne.ReplaceAllString(amount, "$1")
	if x < 0 {
		return "−" + amount
	}
	return "+" + amount
}
