package say

import (
	"time"

	"hotday/models"
	"hotday/planner/say/words"
)

// NoBreak is the space that keeps a number with its unit and the groups of its digits together: a narrow no-break space.
const NoBreak = "\u202f"

// Writer formats quantities, times and dates in the units, the clock, the order of dates, the time zone and the language of a site.
type Writer struct {
	units models.Units
	loc   *time.Location
	words *words.Catalogue
	lang  string
}

// WriterFor returns the writer of a site.
func WriterFor(site models.Site) Writer {
	return Writer{units: site.Shown(), loc: site.Location(), words: words.In(site.Language), lang: site.Language}
}

// Metric returns a writer for texts that belong to no site: g, °C, L, 24 h clock, English.
func Metric(loc *time.Location) Writer {
	return Writer{units: models.Site{}.Shown(), loc: loc, words: words.In(words.English)}
}

// SiteLanguage is the language of the site as it was set up, empty for English.
func (w Writer) SiteLanguage() string { return w.lang }

// Location is the time zone of the site.
func (w Writer) Location() *time.Location { return w.loc }

// Pounds reports whether masses are shown in ounces and pounds.
func (w Writer) Pounds() bool { return w.units.Mass == models.OuncesPounds }

// Fahrenheit reports whether temperatures are shown in °F.
func (w Writer) Fahrenheit() bool { return w.units.Temperature == models.Fahrenheit }

// Gallons reports whether volumes are shown in fluid ounces and gallons.
func (w Writer) Gallons() bool { return w.units.Volume == models.FluidOuncesGallons }
