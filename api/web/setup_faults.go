package web

import (
	"cmp"
	"strconv"
	"strings"

	"hotday/api/web/form"
	"hotday/models"
)

// inPlainWords words faults for people, with limits in the units of the page: those of a field by its path, those of general rules by
// the rule.
func inPlainWords(faults []models.FieldError, fields form.Config, v voice) []models.FieldError {
	out := make([]models.FieldError, 0, len(faults))
	for _, f := range faults {
		if f.Rule != ruleWorded {
			f.Detail = cmp.Or(plainFault(f, fields, v), v.Say("setup.wrong.other"))
		}
		f.Accepted = ""
		out = append(out, f)
	}
	return out
}

// ruleWorded marks a fault that a page has found itself and worded.
const ruleWorded = "worded"

// plainFault is a fault in words, "" where there are none of its own.
func plainFault(f models.FieldError, fields form.Config, v voice) string {
	path := pathOf(f.Pointer)
	number := func() string {
		x, err := strconv.ParseFloat(f.Limit, 64)
		if err != nil {
			return f.Limit
		}
		return fields.Quantity(path, x)
	}
	switch f.Rule {
	case "":
		if key := fieldKey(v, "setup.wrong.at.", path, ""); key != "" {
			return v.Say(key)
		}
		if strings.HasSuffix(path, ".code") || path == "supplies.name" {
			return v.Say("setup.wrong.taken")
		}
		return ""
	case models.RuleMissing:
		return v.Say("setup.wrong.missing")
	case form.RuleNumber:
		if f.Limit == "" {
			return v.Say("setup.wrong.no_number")
		}
		return v.Say("setup.wrong.number", "unit", f.Limit)
	case "gte", "min":
		return v.Say("setup.wrong.gte", "limit", number())
	case "lte", "max":
		return v.Say("setup.wrong.lte", "limit", number())
	case "gt":
		return v.Say("setup.wrong.gt", "limit", number())
	case "lt":
		return v.Say("setup.wrong.lt", "limit", number())
	case "list_min":
		return v.Say("setup.wrong.list_min")
	case "list_max", "text_max":
		return v.Say("setup.wrong."+f.Rule, "n", f.Limit)
	case "text_oneof":
		return v.Say("setup.wrong.oneof")
	}
	if key := "setup.wrong." + f.Rule; v.Has(key) {
		return v.Say(key)
	}
	return ""
}
