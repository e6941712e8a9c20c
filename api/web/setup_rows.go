package web

import (
	"math"
	"net/url"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"hotday/api/web/form"
	"hotday/models"
	"hotday/planner/say"
)

// editRows adds, copies or removes a row if the button says so. A button that adds names the list and, where new rows differ, the
// variant: "/beverages?steeped".
func (t *setupInput) editRows(stored models.Setup, s setupSection, typed url.Values) bool {
	switch {
	case typed.Get("add") != "":
		list, variant, _ := strings.Cut(typed.Get("add"), "?")
		if s.shows(list) && form.IsRows(reflect.TypeFor[models.Setup](), list) {
			t.added = form.Add(t.doc, list, newRow(stored, list, variant))
		}
	case typed.Get("copy") != "":
		form.Copy(t.doc, typed.Get("copy"))
		t.added = nextRow(typed.Get("copy"))
	case typed.Get("remove") != "":
		form.Remove(t.doc, typed.Get("remove"))
		t.raw = nil // the indexes have shifted
	default:
		return false
	}
	return true
}

// nextRow is the pointer of the row after a row.
func nextRow(pointer string) string {
	at := strings.LastIndexByte(pointer, '/')
	if n, err := strconv.Atoi(pointer[at+1:]); err == nil {
		return pointer[:at+1] + strconv.Itoa(n+1)
	}
	return ""
}

// newRow is a row just added to a list, with the values that a new shop starts with: whatever a plan needs and few people know at
// first. The rest is left to fill in.
func newRow(s models.Setup, list, variant string) map[string]any {
	switch list {
	case "/coffees":
		return map[string]any{"pack_g": 1000.0, "lots": []any{newRow(s, "/coffees/0/lots", "")}}
	case "/beverages":
		return newBeverage(s, variant)
	case "/drinks":
		return map[string]any{"uses": []any{newRow(s, "/drinks/0/uses", "")}}
	case "/brewers":
		return newBrewer(s)
	case "/ice/moulds":
		return map[string]any{"geometry": "slab", "freezer_air_c": -18.0, "h_w_m2k": 10.0, "freezer_heat_w": 100.0}
	}
	switch {
	case strings.HasSuffix(list, "/lots"):
		return map[string]any{"place": "shelf"}
	case strings.HasSuffix(list, "/uses") && len(s.Beverages) == 1:
		return map[string]any{"beverage": s.Beverages[0].Code}
	}
	return map[string]any{}
}

// newBeverage is a recipe to start from: common practice, no source. Its strength is the one that the brewing model gives. The costs
// are in minor units: 0.20 to pour away a kg, and a loss of taste of 0.08 per kg and hour, of 0.02 for cold brew.
func newBeverage(s models.Setup, method string) map[string]any {
	minor := math.Pow10(say.MoneyDecimals(s.Site.Currency))
	row := map[string]any{"method": method, "ice_share": 0.0, "target_temp_c": 5.0, "hold_h": models.NewShopHoldH,
		"disposal_cost_per_kg": 0.2 * minor, "aging_cost_per_kg_h": 0.08 * minor}
	if len(s.Coffees) == 1 {
		row["coffee"] = s.Coffees[0].Code
	}
	set := func(name string, value any) { row[name] = value }
	switch method {
	case models.Steeped:
		set("ratio", 9.0)
		set("brewer_out_temp_c", 5.0)
		set("steep_h", 14.0) // from closing time to opening time
		set("steep_temp_c", 4.0)
		set("ready_min", 30.0)
		set("hold_h", models.NewShopColdBrewH)
		set("max_yield_pct", models.ColdYieldPct)
		set("target_tds_pct", 2.17)
		set("aging_cost_per_kg_h", 0.02*minor)
	case models.HotChilled:
		set("ratio", 15.5)
		set("brewer_out_temp_c", 82.0)
		set("bath", true)
		set("ready_min", 45.0)
		set("target_tds_pct", 1.39)
	case models.Flash:
		set("ratio", 15.0)
		set("ice_share", 0.25)
		set("brewer_out_temp_c", 82.0)
		set("bath", true)
		set("ready_min", 40.0)
		set("target_tds_pct", 1.36)
	}
	return row
}

// newBrewer brews the beverages that no brewer has yet and that are made as the first of them is.
func newBrewer(s models.Setup) map[string]any {
	row := map[string]any{"batch_cost": models.NewShopBatchCost(0, models.DefaultWorkMin().BathChilled, say.MoneyDecimals(s.Site.Currency))}
	var brews []any
	cold := false
	for _, b := range s.Beverages {
		if slices.ContainsFunc(s.Brewers, func(x models.Brewer) bool { return slices.Contains(x.Beverages, b.Code) }) {
			continue
		}
		if len(brews) == 0 {
			cold = b.Method == models.Steeped
			row["busy_min"] = 25.0
			if cold && b.SteepH != nil {
				row["busy_min"] = 60 * *b.SteepH
			}
		}
		if cold == (b.Method == models.Steeped) {
			brews = append(brews, b.Code)
		}
	}
	row["beverages"] = brews
	return row
}

// variants of new rows by list, in the order of their buttons. Other lists have one kind of new row.
var variants = map[string][]string{"beverages": {models.Flash, models.HotChilled, models.Steeped}}

// named are the lists whose rows have a name and a code; the code is made from the name where it is left empty.
var named = []string{"/beverages", "/drinks", "/site/care"}

// nameRows gives codes to new rows: from their name, and to a bag from its roast date.
func nameRows(doc map[string]any) {
	for _, at := range named {
		rows, _ := form.At(doc, at).([]any)
		for _, x := range rows {
			row, _ := x.(map[string]any)
			if name, _ := row["name"].(string); row["code"] == nil && name != "" {
				row["code"] = unusedCode(codeFrom(name), rows)
			}
		}
	}
	coffees, _ := doc["coffees"].([]any)
	var bags []any
	for _, x := range coffees {
		coffee, _ := x.(map[string]any)
		lots, _ := coffee["lots"].([]any)
		bags = append(bags, lots...)
	}
	for _, x := range bags {
		bag, _ := x.(map[string]any)
		if day, _ := bag["roasted_on"].(string); bag["code"] == nil && day != "" {
			bag["code"] = unusedCode(day, bags)
		}
	}
}

// codeFrom writes a name as a code: "Café au lait, large" becomes "café-au-lait-large".
func codeFrom(name string) string {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	letters := []rune(strings.Join(words, "-"))
	return strings.Trim(string(letters[:min(len(letters), 50)]), "-")
}

// unusedCode is the code itself, or the code with a number if a row has it already.
func unusedCode(code string, rows []any) string {
	if code == "" {
		code = "new"
	}
	for n := 1; ; n++ {
		try := code
		if n > 1 {
			try += "-" + strconv.Itoa(n)
		}
		if !slices.ContainsFunc(rows, func(x any) bool { row, _ := x.(map[string]any); return row["code"] == try }) {
			return try
		}
	}
}

// emptyDrinks are the new drinks that use neither a beverage nor coffee ground to order: nothing would be made for them.
func emptyDrinks(stored, changed models.Setup, v voice) (wrong []models.FieldError) {
	empty := func(d models.Drink) bool { return len(d.Uses)+len(d.Doses) == 0 }
	for i, d := range changed.Drinks {
		before := slices.ContainsFunc(stored.Drinks, func(x models.Drink) bool { return x.Code == d.Code && empty(x) })
		if empty(d) && !before {
			wrong = append(wrong, models.FieldError{Pointer: "/drinks/" + strconv.Itoa(i) + "/uses", Detail: v.Say("setup.wrong.empty_drink"), Rule: ruleWorded})
		}
	}
	return wrong
}
