// Package holidays lists the public holidays of countries and their regions, from the library rickar/cal. Some are moved or added by
// decree, so a list is a suggestion that the people of a site correct.
package holidays

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/rickar/cal/v2"

	"hotday/models"
)

// Holiday is a public holiday. A holiday and the weekday on which it is observed instead are both listed, under one name.
type Holiday struct {
	Date models.Date `json:"date"`
	Name string      `json:"name"`
}

// Country is a country whose holidays are known, by its code in ISO 3166-1, and its regions that differ from the rest, by their codes in
// ISO 3166-2 without the country. Without a region only the holidays of the whole country are known; Whole is false if there are none.
type Country struct {
	Code    string   `json:"code"`
	Regions []string `json:"regions"`
	Whole   bool     `json:"whole"`
}

// Countries are sorted by their code.
func Countries() []Country {
	out := make([]Country, 0, len(calendars))
	for _, code := range slices.Sorted(maps.Keys(calendars)) {
		_, whole := calendars[code][""]
		c := Country{Code: code, Whole: whole, Regions: []string{}}
		for _, region := range slices.Sorted(maps.Keys(calendars[code])) {
			if region != "" {
				c.Regions = append(c.Regions, region)
			}
		}
		out = append(out, c)
	}
	return out
}

// Years for which holidays are calculated.
const (
	FirstYear = 2000
	LastYear  = 2100
)

// In returns the holidays of a year in order of their dates; region may be empty where the country's own are known. A country, region or
// year that is not known is a CodeInvalid *models.Error.
func In(country, region string, year int) ([]Holiday, error) {
	country, region = strings.ToUpper(country), strings.ToUpper(region)
	regions, ok := calendars[country]
	if !ok {
		return nil, models.Invalid("/country", strings.Join(slices.Sorted(maps.Keys(calendars)), ", "), "the holidays of %q are not known", country)
	}
	list, ok := regions[region]
	if !ok {
		known := slices.DeleteFunc(slices.Sorted(maps.Keys(regions)), func(r string) bool { return r == "" })
		return nil, models.Invalid("/region", strings.Join(known, ", "), "the holidays of region %q of %s are not known", region, country)
	}
	if year < FirstYear || year > LastYear {
		return nil, models.Invalid("/year", "2000 to 2100", "%d is out of range", year)
	}
	out := []Holiday{}
	for _, h := range list {
		if h.Type == cal.ObservanceReligious || h.Type == cal.ObservanceOther {
			continue
		}
		actual, observed := h.Calc(year)
		for _, t := range []time.Time{actual, observed} {
			if d := (Holiday{models.Date(t.Format(time.DateOnly)), h.Name}); !t.IsZero() && !slices.Contains(out, d) {
				out = append(out, d)
			}
		}
	}
	slices.SortFunc(out, func(a, b Holiday) int { return cmp.Or(cmp.Compare(a.Date, b.Date), cmp.Compare(a.Name, b.Name)) })
	return out, nil
}
