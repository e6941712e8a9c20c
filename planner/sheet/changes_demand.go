package sheet

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"hotday/models"
	"hotday/planner/say"
)

// The least changes of demand that are worth a word: of a day, and of a drink beyond its day's, in servings and as parts.
const (
	demandServings = 5
	demandDay      = 0.05
	demandDrink    = 0.15
	mostDrinks     = 3
)

// demand compares the servings expected in day parts that have not begun: a sentence a day, with the drinks that do not change as the
// day does.
func (c *changeWriter) demand(a, b []models.DemandRange) {
	type row struct {
		date        models.Date
		part, drink string
	}
	old := map[row]float64{}
	for _, r := range a {
		old[row{r.Date, r.DayPart, r.Drink}] = r.Mean
	}
	type change struct {
		drink   string
		was, is float64
	}
	days := map[models.Date][]change{}
	for _, r := range b {
		was, ok := old[row{r.Date, r.DayPart, r.Drink}]
		if !ok || c.begun(r.Date, r.DayPart) {
			continue
		}
		list := days[r.Date]
		i := slices.IndexFunc(list, func(x change) bool { return x.drink == r.Drink })
		if i < 0 {
			list, i = append(list, change{drink: r.Drink}), len(list)
		}
		list[i].was, list[i].is = list[i].was+was, list[i].is+r.Mean
		days[r.Date] = list
	}
	for _, date := range keysOf(days, nil) {
		var was, is float64
		for _, x := range days[date] {
			was, is = was+x.was, is+x.is
		}
		ratio := 1.0
		if whole := noticeable(was, is, demandDay, demandServings); whole {
			ratio = is / math.Max(was, 1e-9)
		}
		var apart []change
		for _, x := range days[date] {
			if noticeable(x.was*ratio, x.is, demandDrink, demandServings) {
				apart = append(apart, x)
			}
		}
		slices.SortStableFunc(apart, func(x, y change) int { return cmp.Compare(math.Abs(y.is-y.was), math.Abs(x.is-x.was)) })
		apart = apart[:min(len(apart), mostDrinks)]
		var drinks []string
		for _, x := range apart {
			drinks = append(drinks, c.q.Say("change.drink", "drink", c.drink(x.drink), "is", say.Number(x.is, 0), "was", say.Number(x.was, 0)))
		}
		switch still := c.stillOf(date); {
		case ratio != 1:
			key := "change.demand"
			if len(drinks) > 0 && len(days[date]) > 1 {
				key = "change.demand_drinks"
			}
			c.say(changeDemand, key, "day", c.q.DayName(date), "from", still, "is", say.Number(is, 0), "was", say.Number(was, 0), "drinks", c.q.Listed(drinks))
		case len(drinks) > 0:
			c.say(changeDemand, "change.drinks", "day", c.q.DayName(date), "from", still, "drinks", c.q.Listed(drinks))
		}
	}
}

// stillOf says from when on a day's demand was compared, where that is not the whole day.
func (c *changeWriter) stillOf(date models.Date) string {
	for _, p := range c.site.DayParts {
		if c.begun(date, p.Code) {
			continue
		}
		if p.Code == c.site.DayParts[0].Code {
			return ""
		}
		return c.q.Say("change.from", "at", c.q.Clock(c.site.DayPartSpan(date, p).From))
	}
	return ""
}

// chanceMove is the least change of a chance that is worth a word, percentage points.
const chanceMove = 10

// warnings compares the warnings by subject and date.
func (c *changeWriter) warnings(a, b []models.Warning) {
	before := map[string]models.Warning{}
	for _, w := range a {
		before[c.about(w)] = w
	}
	now := map[string]bool{}
	for _, w := range b {
		now[c.about(w)] = true
	}
	for _, w := range b {
		old, ok := before[c.about(w)]
		switch {
		case c.saidElsewhere(w, now):
		case !ok:
			c.say(changeWarning, "change.warning", "warning", w.Cause)
		case math.Abs(old.ChancePct-w.ChancePct) >= chanceMove:
			c.say(changeWarning, "change.chance", "warning", w.Cause, "chance", c.q.Chance(old.ChancePct))
		}
	}
	var over []string
	for _, w := range a {
		if k := c.about(w); !now[k] && !c.saidElsewhere(w, now) {
			now[k] = true
			over = append(over, c.subject(w))
		}
	}
	if len(over) > 0 {
		c.say(changeWarning, "change.over", "warnings", strings.Join(over, c.q.Say("said.semicolon")))
	}
}

// about identifies the matter of a warning: its kind, its date and the thing that its first field names.
func (c *changeWriter) about(w models.Warning) string {
	thing := ""
	if len(w.Fields) > 0 {
		path := strings.Split(w.Fields[0], ".")
		switch path[0] {
		case "beverages", "brewers", "coffees", "stock", "drinks", "supplies":
			thing = strings.Join(path[:min(2, len(path))], ".")
		default:
			thing = path[0]
			if w.OfBathIce() {
				thing = "ice.plain"
			}
		}
	}
	return w.Kind + " " + string(models.DateOf(w.At, c.loc)) + " " + thing
}

// saidElsewhere reports whether a warning only adds to another one: ice that is not for drinks while ice for drinks runs short.
func (c *changeWriter) saidElsewhere(w models.Warning, others map[string]bool) bool {
	if w.Kind != models.WarnPlainIce {
		return false
	}
	return others[models.WarnIceShort+" "+string(models.DateOf(w.At, c.loc))+" ice"]
}

// subject names a warning by its time and what is wrong, with the beverage or coffee concerned.
func (c *changeWriter) subject(w models.Warning) string {
	if w.Subject == "" {
		return c.q.WarningSubject(w)
	}
	return c.q.Say("change.of", "warning", c.q.WarningSubject(w), "thing", c.beverage(w.Subject))
}
