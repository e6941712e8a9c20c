package setupfile

import (
	"reflect"
	"slices"
	"strings"

	"hotday/api/web/texts"
)

// unitOf is the unit that the name of a field ends in, in words; "" for none.
func unitOf(name string) string {
	name = name[strings.LastIndexByte(name, '.')+1:]
	for _, u := range []struct{ end, unit string }{
		{"kg_per_day", "kg a day"}, {"kg_per_day_rated", "kg a day"}, {"cost_per_kg", "cents per kg"}, {"cost_per_kg_h", "cents per kg and hour"},
		{"_cost", "cents"}, {"price", "cents"}, {"_pct_per_h", "% an hour"}, {"_pct", "%"}, {"_share", "0 to 1"}, {"_l_per_h", "L an hour"},
		{"_mg_l", "mg/L"}, {"_mg_l_caco3", "mg/L"}, {"_l", "L"}, {"_l_per_batch", "L"}, {"_mm", "mm"}, {"_m", "m"}, {"_w", "W"}, {"_g", "g"},
		{"_c", "°C"}, {"_days_min", "days"}, {"_days_max", "days"}, {"_days", "days"}, {"_min", "min"}, {"_h", "h"},
	} {
		if strings.HasSuffix(name, u.end) {
			return u.unit
		}
	}
	switch name {
	case "g", "grams":
		return "g"
	case "expected", "p10", "p90":
		return "drinks"
	case "days":
		return "days"
	}
	return ""
}

// noteOf says what a field is, in the words of the settings' page or in those below; "" where its name says it.
func noteOf(path string) string {
	english := texts.For("en")
	if own, ok := requestNotes[path]; ok {
		return own
	}
	if key := "setup.field." + path; slices.Contains(english.Keys(), key) {
		note := english.Say(key)
		if help := "setup.help." + path; slices.Contains(english.Keys(), help) {
			note += ". " + english.Say(help)
		}
		return note
	}
	return ""
}

// requestNotes are the notes of what is in a plan request beside the set-up.
var requestNotes = map[string]string{
	"from":              "First day of the plan, such as 2026-07-11",
	"days":              "Days to plan, 1 to 14",
	"now":               "When the plan is made, by the shop's clock; empty: 18:00 on the evening before",
	"demand.date":       "Day, such as 2026-07-11",
	"demand.day_part":   "As on the sheet site.day_parts",
	"demand.drink":      "Short name, as on the sheet drinks",
	"demand.expected":   "Drinks you expect to sell",
	"demand.p10":        "9 days in 10 sell more; leave this and p90 empty if you don't know",
	"demand.p90":        "9 days in 10 sell fewer",
	"weather.at":        "Hour, by the shop's clock, such as 2026-07-11 14:00",
	"weather.temp_c":    "Outside, in the shade",
	"stock.beverage":    "Short name, as on the sheet beverages",
	"stock.g":           "Left from earlier batches",
	"stock.made_at":     "When the batch was ready, by the shop's clock, such as 2026-07-10 09:00",
	"site.code":         "Short name of the shop",
	"beverages.code":    "Short name, used on the other sheets",
	"drinks.code":       "Short name, used on the other sheets",
	"coffees.lots.code": "Name of the bag or lot, such as A1",
}

// isNeeded reports whether a field may not be left out.
func isNeeded(tag reflect.StructTag, t reflect.Type) bool {
	_, preset := tag.Lookup("default")
	return !preset && tag.Get("opt") == "" && t.Kind() != reflect.Pointer && t.Kind() != reflect.Slice
}
