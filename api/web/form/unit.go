package form

import (
	"math"
	"strconv"
	"strings"

	"hotday/models"
	"hotday/planner/say/quantity"
)

// scale is how a number of the document is shown: shown = (stored − off)·by, with a unit.
type scale struct {
	unit    string
	by, off float64
}

// scaleOf reads the unit off the end of a field's name, as every quantity of the documents has it.
func (w Way) scaleOf(path string) scale {
	name := path[strings.LastIndexByte(path, '.')+1:]
	has := func(end string) bool { return strings.HasSuffix(name, end) }
	as := func(unit string, by float64) scale { return scale{unit: unit, by: by} }
	money := math.Pow10(-w.Decimals)
	mass := w.Writer.MassUnit()
	perMass := quantity.Per(mass) / 1000 // kg in a lb
	switch {
	case name == "price", name == "other_cost", name == "batch_cost":
		return as(w.Currency, money)
	case has("cost_per_kg"):
		return as(w.Currency+"/"+mass, money*perMass)
	case has("cost_per_kg_h"):
		return as(w.Currency+"/"+mass+" h", money*perMass)
	case name == "kg_per_day", name == "kg_per_day_rated":
		return as(mass+"/day", 1/perMass)
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
		return as(v+"/h", 1/quantity.Per(v))
	case has("_mg_l"), has("_mg_l_caco3"):
		return as("mg/L", 1)
	case has("_l"), has("_l_per_batch"):
		v := w.Writer.VolumeUnit()
		return as(v, 1/quantity.Per(v))
	case has("_w_per_k"):
		return as("W/K", 1)
	case has("_w_m2k"):
		return as("W/m²K", 1)
	case has("_w"):
		return as("W", 1)
	case name == "g", name == "grams", has("_g"):
		unit := w.Writer.FineUnit()
		return as(unit, 1/quantity.Per(unit))
	case has("_c"):
		if w.Writer.Fahrenheit() {
			return scale{unit: w.Writer.TempUnit(), by: 1.8, off: -32 / 1.8}
		}
		return as(w.Writer.TempUnit(), 1)
	case has("_min") && !has("_days_min"):
		return as("min", 1)
	case has("_days_min"), has("_days_max"):
		return as("days", 1)
	case has("_h"):
		return as("h", 1)
	case has("_mm"):
		return as("mm", 1)
	case has("_m"):
		return as("m", 1)
	}
	return as("", 1)
}

// show writes a stored number for a field: to seven digits where units are converted, which read back to six are what they were.
func (s scale) show(x float64) string {
	return strconv.FormatFloat(round((x-s.off)*s.by, s.digits(7)), 'f', -1, 64)
}

// digits is how many are kept: n of units that are converted; of powers of ten all but the last that a float64 holds.
func (s scale) digits(n int) int {
	if s.off == 0 && math.Log10(s.by) == math.Trunc(math.Log10(s.by)) {
		return 15
	}
	return n
}

// read reads what was typed. Units other than the field's may be written where the site's way of writing knows them.
func (s scale) read(typed string, w quantity.Writer) (float64, error) {
	var (
		x   float64
		err error
	)
	switch {
	case s.unit == w.TempUnit():
		x, err = w.ReadTemp(typed)
	case s.unit == w.FineUnit():
		x, err = w.ReadMass(typed, s.unit)
	case s.unit == w.VolumeUnit():
		x, err = w.ReadVolume(typed)
	default:
		x, err = plain(typed)
		x = x/s.by + s.off
	}
	return round(x, s.digits(6)), err
}

func plain(typed string) (float64, error) {
	t := strings.TrimSpace(strings.NewReplacer("\u202f", "", "\u00a0", "", " ", "", "−", "-").Replace(typed))
	if strings.Count(t, ",") == 1 && !strings.Contains(t, ".") {
		t = strings.Replace(t, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(t, 64)
	if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
		return 0, models.Invalid("", "a number such as 12.5", "%q is no number", typed)
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
