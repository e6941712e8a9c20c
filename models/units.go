package models

// Units are the units and formats in which a site's screens and sheets show and accept quantities, times and dates. Storage,
// computation and the API use g, °C, litres and RFC 3339.
type Units struct {
	Temperature string `json:"temperature" default:"c" validate:"oneof=c f"`
	Mass        string `json:"mass" default:"g" validate:"oneof=g oz_lb"`
	Volume      string `json:"volume" default:"l" validate:"oneof=l fl_oz_gal"`
	Clock       string `json:"clock" default:"24h" validate:"oneof=24h 12h"`
	Dates       string `json:"dates" default:"day_month" validate:"oneof=day_month month_day year_month_day"`
}

// Settings of Units other than the defaults.
const (
	Fahrenheit         = "f"
	OuncesPounds       = "oz_lb"
	FluidOuncesGallons = "fl_oz_gal"
	Clock12            = "12h"
)

// Shown returns the site's units, or the defaults if it sets none.
func (s Site) Shown() Units {
	if s.Units != nil {
		return *s.Units
	}
	return Units{Temperature: "c", Mass: "g", Volume: "l", Clock: "24h", Dates: "day_month"}
}
