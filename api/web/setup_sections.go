package web

import (
	"cmp"
	"reflect"
	"slices"
	"strings"

	"hotday/models"
)

// setupSection is a step of the set-up.
type setupSection struct {
	name      string
	roots     []string // JSON pointers
	elsewhere []string // paths under the roots that other sections show
	more      []string // names or paths of fields to put under "more": rarely changed, and optional or with good defaults in new rows
}

// setupSections in the order in which they are easiest to fill in.
var setupSections = []setupSection{
	{name: "shop", roots: []string{"/site"},
		elsewhere: []string{"site.day_parts", "site.opening", "site.people", "site.serve_min", "site.work_min", "site.baths", "site.food_rules", "site.food_limits", "site.sign_offs", "site.care",
			"site.latitude", "site.longitude", "site.weather"},
		more: []string{"slot_min", "starts_per_slot", "language", "altitude_m", "store_temp_c", "other_ice_pct", "remake_pct", "jug_g", "scale_g", "ice_wells"}},
	{name: "hours", roots: []string{"/site/day_parts", "/site/opening"}},
	{name: "people", roots: []string{"/site/people", "/site/serve_min", "/site/work_min", "/site/baths"}, more: []string{"serve_min", "work_min"}},
	{name: "safety", roots: []string{"/site/food_rules", "/site/food_limits", "/site/care"}, more: []string{"care"}},
	{name: "coffees", roots: []string{"/coffees"}, more: []string{"coffees.lots.code", "thaw_h", "grinder_loss_pct", "rest_days_min", "rest_days_max", "frozen_on", "open_g"}},
	{name: "beverages", roots: []string{"/beverages"}, more: []string{"code", "retained_ratio", "max_yield_pct", "bath_temp_c", "cooling_ua_w_per_k", "steep_temp_c",
		"rest_temp_c", "disposal_cost_per_kg", "aging_cost_per_kg_h", "measured_cooling_min"}},
	{name: "drinks", roots: []string{"/drinks", "/supplies"}, more: []string{"code", "water_g", "milk_g", "other_cost", "extras", "allergens", "like", "supplies"}},
	{name: "brewers", roots: []string{"/brewers"}, more: []string{"max_dose_g", "max_water_g", "batch_cost", "available", "by_hand"}},
	{name: "ice", roots: []string{"/ice"}, more: []string{"bin_loss_pct_per_h", "bath_ice_kg_per_kg_cooled", "inlet_water_c", "rated_air_c", "rated_water_c", "mineral_share",
		"wet_share", "curve", "plain", "h_w_m2k", "treated", "plumbed", "bought"}},
	{name: "water", roots: []string{"/water"}, more: []string{"ice_making_loss_pct", "cl_mg_l", "so4_mg_l", "rinse_l_per_batch"}},
	{name: "costs", roots: []string{"/costs", "/service_level_pct"}},
	{name: weatherSection, roots: []string{"/site/latitude", "/site/longitude", "/site/weather"}},
}

// isHiddenField reports fields that are submitted but not shown: the site's code, and times of stock counts.
func isHiddenField(path string) bool {
	return path == "site.code" || strings.HasSuffix(path, "counted_at")
}

func findSection(name string) (setupSection, int) {
	i := slices.IndexFunc(setupSections, func(s setupSection) bool { return s.name == name })
	if i < 0 {
		return setupSection{}, -1
	}
	return setupSections[i], i
}

func (s setupSection) skips(path string) bool { return slices.Contains(s.elsewhere, path) }

func (s setupSection) isMore(path string) bool {
	return slices.Contains(s.more, path) || slices.Contains(s.more, path[strings.LastIndexByte(path, '.')+1:])
}

// shows reports whether the section shows the field with a pointer.
func (s setupSection) shows(pointer string) bool {
	for _, root := range s.roots {
		if pointer != root && !strings.HasPrefix(pointer, root+"/") {
			continue
		}
		return !slices.ContainsFunc(s.elsewhere, func(path string) bool {
			at := "/" + strings.ReplaceAll(path, ".", "/")
			return pointer == at || strings.HasPrefix(pointer, at+"/")
		})
	}
	return false
}

// stepAfter is the section to go on to from section i, "" for the overview: while others have gaps that prevent planning, which is
// unfinished, the next of those; else the one that follows.
func stepAfter(s models.Setup, i int) (after string, unfinished bool) {
	blocked := map[string]bool{}
	for _, g := range setupGaps(s, voiceOf(s.Site)) {
		blocked[g.Section] = blocked[g.Section] || g.Blocks
	}
	for k := 1; k <= len(setupSections); k++ {
		name := setupSections[(i+k)%len(setupSections)].name
		unfinished = unfinished || blocked[name]
		if blocked[name] && after == "" && k < len(setupSections) {
			after = name
		}
	}
	if !unfinished && i+1 < len(setupSections) {
		after = setupSections[i+1].name
	}
	return after, unfinished
}

// setupGap is something missing in a section.
type setupGap struct {
	Say     string
	Blocks  bool // prevents planning
	Section string
}

// setupGaps lists what is missing for a first plan.
func setupGaps(s models.Setup, v voice) (out []setupGap) {
	add := func(section string, blocks bool, key string, args ...any) {
		out = append(out, setupGap{Say: v.Say("setup.gap."+key, args...), Blocks: blocks, Section: section})
	}
	if len(s.Coffees) == 0 {
		add("coffees", true, "none")
	}
	for _, c := range s.Coffees {
		if len(c.Lots) == 0 {
			add("coffees", false, "no_lot", "coffee", c.Code)
		}
	}
	if len(s.Beverages) == 0 {
		add("beverages", true, "none")
	}
	for _, b := range s.Beverages {
		if !slices.ContainsFunc(s.Brewers, func(x models.Brewer) bool { return slices.Contains(x.Beverages, b.Code) }) {
			add("brewers", true, "not_brewed", "beverage", nameOr(b.Name, b.Code))
		}
		if !slices.ContainsFunc(s.Drinks, func(d models.Drink) bool {
			return slices.ContainsFunc(d.Uses, func(u models.Use) bool { return u.Beverage == b.Code })
		}) {
			add("drinks", false, "not_used", "beverage", nameOr(b.Name, b.Code))
		}
		if b.HoldH > s.Site.MaxHoldH {
			add("beverages", false, "held_long", "beverage", nameOr(b.Name, b.Code), "h", b.HoldH, "most", s.Site.MaxHoldH)
		}
	}
	if len(s.Drinks) == 0 {
		add("drinks", true, "none")
	}
	for _, d := range s.Drinks {
		if len(d.Uses) == 0 && len(d.Doses) == 0 {
			add("drinks", false, "empty_drink", "drink", nameOr(d.Name, d.Code))
		}
	}
	if len(s.Brewers) == 0 && len(s.Beverages) == 0 {
		add("brewers", true, "none")
	}
	if len(s.Ice.Makers)+len(s.Ice.Moulds) == 0 && needsIce(s) {
		add("ice", true, "no_ice")
	}
	if s.Ice.BinG == 0 && needsIce(s) {
		add("ice", true, "no_bin")
	}
	if s.Site.StoreG == 0 {
		add("shop", true, "no_store")
	}
	if s.Water.TankL == 0 && s.Water.MakeLPerH == 0 {
		add("water", true, "no_tank")
	}
	if reflect.ValueOf(s.Water.Source).IsZero() && reflect.ValueOf(s.Water.Target).IsZero() {
		add("water", false, "no_water")
	}
	for _, d := range s.Drinks {
		if d.Price == 0 {
			add("costs", false, "no_price", "drink", nameOr(d.Name, d.Code))
		}
	}
	if s.Costs.TaxPct == nil && len(s.Drinks) > 0 {
		add("costs", false, "no_tax")
	}
	if s.Costs.IceShortFactor == nil && needsIce(s) {
		add("costs", false, "no_ice_factor", "factor", s.Costs.ShortFactor)
	}
	return out
}

func needsIce(s models.Setup) bool {
	return slices.ContainsFunc(s.Drinks, func(d models.Drink) bool { return d.ServingIceG > 0 }) ||
		slices.ContainsFunc(s.Beverages, func(b models.Beverage) bool { return b.IceShare > 0 })
}

// summary describes the content of a section: "4 beverages".
func (s setupSection) summary(set models.Setup, v voice) string {
	say := func(n int) string {
		if n == 0 {
			return "" // the gap below says so
		}
		return v.Say("setup.holds."+s.name, "n", n)
	}
	switch s.name {
	case "shop":
		return v.Say("setup.holds.shop", "zone", set.Site.Timezone, "currency", set.Site.Currency)
	case "hours":
		return say(len(set.Site.DayParts))
	case "people":
		if len(set.Site.People) == 0 {
			return v.Say("setup.holds.people_none")
		}
		return say(len(set.Site.People))
	case "safety":
		return v.Say("setup.holds.safety", "rules", v.Say("setup.choice.site.food_rules."+cmp.Or(set.Site.FoodRules, models.FoodRulesStrictest)))
	case "coffees":
		return say(len(set.Coffees))
	case "beverages":
		return say(len(set.Beverages))
	case "drinks":
		return say(len(set.Drinks))
	case "brewers":
		return say(len(set.Brewers))
	case "ice":
		return say(len(set.Ice.Makers) + len(set.Ice.Moulds))
	case "water":
		if set.Water.Target == (models.WaterTarget{}) {
			return ""
		}
		return v.Say("setup.holds.water", "hardness", set.Water.Target.HardnessMgLCaCO3, "alkalinity", set.Water.Target.AlkalinityMgLCaCO3)
	}
	if s.name == weatherSection {
		return v.Say("setup.choice.site.weather.source." + set.Site.ForecastSource())
	}
	if set.ServiceLevelPct != nil {
		return v.Say("setup.holds.level", "pct", *set.ServiceLevelPct)
	}
	return v.Say("setup.holds.costs")
}
