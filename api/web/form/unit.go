package form

import (
	"math"
	"strconv"
	"strings"

	"hotday/models"
	"hotday/planner/say"
)

// scale converts a number for display: shown = (stored − offset)·factor.
type scale struct {
	unit           string
	factor, offset float64
}

// scaleOf derives the scale from the unit suffix of a field's name.
func (w Config) scaleOf(path string) scale {
	name := path[strings.LastIndexByte(path, '.')+1:]
	has := func(end string) bool { return strings.HasSuffix(name, end) }
	as := func(unit string, by float64) scale { return scale{unit: unit, factor: by} }
	money := math.Pow10(-w.Decimals)
	mass := w.Writer.MassUnit()
	perMass := say.Per(mass) / 1000 // kg per unit
	switch {
	case name == "price", name == "other_cost", name == "batch_cost", name == "bag_cost":
		return as(w.Currency, money)
	case has("cost_per_kg"):
		return as(w.Currency+"/"+mass, money*perMass)
	case has("cost_per_kg_h"):
		return as(w.Currency+"/"+mass+" h", money*perMass)
	case name == "kg_per_day", name == "kg_per_day_rated":
		return as(mass+"/"+w.Writer.DayUnit(), 1/perMass)
	case has("kg_per_kg_cooled"):
		return as("", 1)
	case has("_share"):
		return as("%", 100)
	case has("_pct_per_h"):
		return as("%/h", 1)
	case has("_pct"):
		return as("%", 1)
	case has("_l_per_h"):
		v := w.Writer.VolumeUnit()
		return as(v+"/h", 1/say.Per(v))
	case has("_mg_l"), has("_mg_l_caco3"):
		return as("mg/L", 1)
	case has("_l"), has("_l_per_batch"):
		v := w.Writer.VolumeUnit()
		return as(v, 1/say.Per(v))
	case has("_w_per_k"):
		return as("W/K", 1)
	case has("_w_m2k"):
		return as("W/m²K", 1)
	case has("_w"):
		return as("W", 1)
	case isLargeMass(name):
		return as(mass, 1/say.Per(mass))
	case name == "g", has("_g"):
		unit := w.Writer.FineUnit()
		return as(unit, 1/say.Per(unit))
	case has("_c"):
		if w.Writer.Fahrenheit() {
			return scale{unit: w.Writer.TempUnit(), factor: 1.8, offset: -32 / 1.8}
		}
		return as(w.Writer.TempUnit(), 1)
	case has("_min") && !has("_days_min"), name == "min", strings.Contains(path, ".work_min."):
		return as("min", 1)
	case has("_days_min"), has("_days_max"), has("_days"):
		return as(w.Writer.DaysUnit(), 1)
	case has("_h"):
		return as("h", 1)
	case has("_mm"):
		return as("mm", 1)
	case has("_m"):
		return as("m", 1)
	}
	return as("", 1)
}

// isLargeMass reports fields, stored in g, of which people speak in kg or lb: whole batches, bags, bins and loads.
func isLargeMass(name string) bool {
	switch name {
	case "bag_g", "bin_g", "grams", "holds_g", "jug_g", "load_g", "max_beverage_g", "max_water_g", "min_beverage_g", "open_g", "opening_g",
		"pack_g", "sizes_g", "store_g":
		return true
	}
	return false
}

// Quantity words a stored number of the field with a path in the unit of its control: "34 kg".
func (w Config) Quantity(path string, x float64) string {
	s := w.scaleOf(path)
	switch {
	case s.unit == "", strings.HasPrefix(s.unit, "%"):
		return w.Writer.Typed(s.show(x)) + s.unit
	}
	return w.Writer.Typed(s.show(x)) + say.NoBreak + s.unit
}

// show formats a stored number. Converted units have seven significant digits, which read rounds to the original six.
func (s scale) show(x float64) string {
	return strconv.FormatFloat(round((x-s.offset)*s.factor, s.digits(7)), 'f', -1, 64)
}

// digits is the number of significant digits to keep: n if the unit is converted, else 15, nearly all of a float64.
func (s scale) digits(n int) int {
	if power := math.Log10(s.factor); s.offset == 0 && math.Abs(power-math.Round(power)) < 1e-9 {
		return 15
	}
	return n
}

// read parses a submitted number. Temperatures, masses and volumes may have another unit after them.
func (s scale) read(typed string, w say.Writer) (float64, error) {
	var (
		x   float64
		err error
	)
	switch {
	case s.unit == w.TempUnit():
		x, err = w.ReadTemp(typed)
	case s.unit == w.FineUnit(), s.unit == w.MassUnit():
		x, err = w.ReadMass(typed, s.unit)
	case s.unit == w.VolumeUnit():
		x, err = w.ReadVolume(typed)
	default:
		x, err = parseNumber(typed)
		x = x/s.factor + s.offset
	}
	return round(x, s.digits(6)), err
}

func parseNumber(typed string) (float64, error) {
	t := strings.TrimSpace(strings.NewReplacer("\u202f", "", "\u00a0", "", " ", "", "−", "-").Replace(typed))
	if strings.Count(t, ",") == 1 && !strings.Contains(t, ".") {
		t = strings.Replace(t, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(t, 64)
	if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
		return 0, models.Invalid("", "a number such as 12.5", "%q is not a number", typed)
	}
	return x, nil
}

func round(x float64, digits int) float64 {
	if x == 0 {
		return 0
	}
	y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'e', digits-1, 64), 64)
	return y
}
