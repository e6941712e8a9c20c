package say

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"hotday/models"
)

// ReadMass reads a mass that a person typed, such as "4.5", "4,5 kg", "4 500 g" or "9 lb 14.7 oz", and returns it in g. A number without
// a unit is in unit: "g", "kg", "oz" or "lb"; empty: the site's larger one, kg or lb. The error is a CodeInvalid *models.Error that says
// what would be accepted.
func (w Writer) ReadMass(s, unit string) (float64, error) {
	if unit == "" {
		unit = w.MassUnit()
	}
	return read(s, unit, massUnits, "a weight such as 4.5 kg, 4500 g or 9 lb 14 oz")
}

// ReadVolume reads a volume that a person typed and returns it in L. A number without a unit is in the site's, L or gal. Errors are those
// of ReadMass.
func (w Writer) ReadVolume(s string) (float64, error) {
	return read(s, w.VolumeUnit(), volumeUnits, "a volume such as 40 L, 250 ml or 10.5 gal")
}

// ReadTemp reads a temperature that a person typed and returns it in °C. A number without a unit is in the site's. Errors are those of
// ReadMass.
func (w Writer) ReadTemp(s string) (float64, error) {
	t := strings.ToLower(strings.TrimSpace(clean(s)))
	f := w.Fahrenheit()
	for _, end := range []struct {
		text string
		f    bool
	}{{"c", false}, {"f", true}} {
		if rest, ok := strings.CutSuffix(t, end.text); ok {
			t, f = rest, end.f
			break
		}
	}
	t = strings.TrimSpace(strings.TrimRight(strings.TrimSpace(t), "°"))
	sign := 1.0
	if rest, ok := strings.CutPrefix(t, "-"); ok {
		sign, t = -1, rest
	}
	x, ok := readNumber(t)
	if !ok {
		return 0, unreadable(s, "a temperature such as 5 °C or 41 °F")
	}
	x *= sign
	if f {
		x = (x - 32) / 1.8
	}
	return x, nil
}

// MassUnit is the unit of fields for large masses: "kg" or "lb".
func (w Writer) MassUnit() string {
	if w.Pounds() {
		return "lb"
	}
	return "kg"
}

// FineUnit is the unit of fields for small masses: "g" or "oz".
func (w Writer) FineUnit() string {
	if w.Pounds() {
		return "oz"
	}
	return "g"
}

// VolumeUnit is the unit of fields for volumes: "L" or "gal".
func (w Writer) VolumeUnit() string {
	if w.Gallons() {
		return "gal"
	}
	return "L"
}

// TempUnit is the unit of fields for temperatures: "°C" or "°F".
func (w Writer) TempUnit() string {
	if w.Fahrenheit() {
		return "°F"
	}
	return "°C"
}

// DayUnit is the word for a day as a unit, as in kg/day.
func (w Writer) DayUnit() string { return w.words.Say("number.day_unit") }

// DaysUnit is the unit of fields for whole days: "days".
func (w Writer) DaysUnit() string { return w.words.Say("number.days_unit") }

// Per is the size of a unit of mass in g, or of volume in L; 1 for unknown units. "oz" is the ounce of mass.
func Per(unit string) float64 {
	key := strings.ToLower(unit)
	if x, ok := massUnits[key]; ok {
		return x
	}
	if x, ok := volumeUnits[key]; ok {
		return x
	}
	return 1
}

var (
	massUnits   = map[string]float64{"g": 1, "kg": 1000, "oz": gPerOz, "lb": gPerLb, "lbs": gPerLb}
	volumeUnits = map[string]float64{"l": 1, "ml": 0.001, "fl oz": lPerFlOz, "floz": lPerFlOz, "oz": lPerFlOz, "gal": lPerGal}
	part        = regexp.MustCompile(`^\s*([0-9][0-9., ]*|[.,][0-9]+)\s*([a-z]+(?: oz)?)?`)
)

// most is more than any shop has, g or L: a slip of the finger is refused here.
const most = 1e7

func read(s, unit string, units map[string]float64, accepted string) (float64, error) {
	rest := strings.ToLower(strings.TrimSpace(clean(s)))
	total, smallest := 0.0, math.Inf(1)
	for rest != "" {
		m := part.FindStringSubmatch(rest)
		if m == nil {
			return 0, unreadable(s, accepted)
		}
		x, ok := readNumber(m[1])
		named := m[2]
		if named == "" {
			named = strings.ToLower(unit)
		}
		per, known := units[named]
		// A second part needs a unit, smaller than the first's: "9 lb 14 oz", not "9 lb 14".
		if !ok || !known || per >= smallest || (m[2] == "" && !math.IsInf(smallest, 1)) {
			return 0, unreadable(s, accepted)
		}
		total, smallest, rest = total+x*per, per, strings.TrimSpace(rest[len(m[0]):])
	}
	if math.IsInf(smallest, 1) || total > most {
		return 0, unreadable(s, accepted)
	}
	return total, nil
}

// clean replaces no-break spaces and the true minus by the characters of a keyboard.
func clean(s string) string {
	return strings.NewReplacer("\u202f", " ", "\u00a0", " ", "\u2009", " ", "−", "-").Replace(s)
}

// readNumber reads "4.5", "4,5", "4 500" and "4,500.5". It refuses "4,500", which can mean either.
func readNumber(s string) (float64, bool) {
	s = strings.ReplaceAll(strings.TrimSpace(s), " ", "")
	switch comma := strings.Count(s, ","); {
	case comma == 0:
	case strings.Contains(s, "."):
		if strings.LastIndex(s, ",") > strings.Index(s, ".") {
			return 0, false
		}
		s = strings.ReplaceAll(s, ",", "")
	case comma > 1 || len(s)-strings.Index(s, ",") == 4 && !strings.HasPrefix(s, "0,"):
		return 0, false
	default:
		s = strings.Replace(s, ",", ".", 1)
	}
	if s == "" || strings.Trim(s, "0123456789.") != "" {
		return 0, false
	}
	x, err := strconv.ParseFloat(s, 64)
	return x, err == nil && !math.IsInf(x, 0)
}

func unreadable(s, accepted string) error {
	return &models.Error{Code: models.CodeInvalid, Message: "“" + s + "” cannot be read", Fields: []models.FieldError{{Detail: "cannot be read", Accepted: accepted}}}
}
