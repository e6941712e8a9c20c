package planner

import (
	"context"
	"encoding/json"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/models"
)

// bound is a number of a request with the ends that its rule allows.
type bound struct {
	path   string
	v      reflect.Value
	lo, hi float64
}

// bounds finds the numbers of a request whose tags state both ends.
func bounds(v reflect.Value, path, rule string, out *[]bound) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			bounds(v.Elem(), path, rule, out)
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			return
		}
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				bounds(v.Field(i), path+"."+f.Name, f.Tag.Get("validate"), out)
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			bounds(v.Index(i), path+"."+strconv.Itoa(i), rule, out)
		}
	case reflect.Float64:
		b := bound{path: path, v: v}
		var low, high bool
		for _, part := range strings.Split(rule, ",") {
			name, x, _ := strings.Cut(part, "=")
			f, err := strconv.ParseFloat(x, 64)
			if err != nil {
				continue
			}
			switch name {
			case "gte":
				b.lo, low = f, true
			case "gt":
				b.lo, low = f+1e-6, true
			case "lte":
				b.hi, high = f, true
			case "lt":
				b.hi, high = f-1e-6, true
			}
		}
		if low && high {
			*out = append(*out, b)
		}
	}
}

// Whatever the rules allow is planned, at the ends of every range: no error, no number that is none, no rule broken.
func TestTheEndsOfEveryRangeArePlanned(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		r := small()
		ua, rest, dose, water, bath := 20.0, 60.0, 400.0, 4000.0, 1.1
		b := &r.Beverages[0]
		if chance(t, "optional", 2) {
			b.CoolingUAWPerK, b.RestTempC, r.Brewers[0].MaxDoseG, r.Brewers[0].MaxWaterG, r.Ice.BathIcePerKg = &ua, &rest, &dose, &water, &bath
		}
		r.Ice.Makers = []models.IceMaker{{Code: "cuber", KgPerDayRated: 30, RatedAirC: 21, RatedWaterC: 10, Treated: true, MineralShare: 1}}
		r.Ice.Moulds = []models.MouldSet{{Code: "bars", LoadG: 3000, ThicknessMM: 30, Geometry: "slab", Sides: 2, LoadsAtOnce: 2, FreezerAirC: -20, HWM2K: 25, FreezerHeatW: 400, Treated: true, MineralShare: 1}}
		r.Stock = []models.Stock{{Beverage: b.Code, G: 500, MadeAt: r.Now}}
		var all []bound
		bounds(reflect.ValueOf(&r).Elem(), "", "", &all)
		require.Greater(t, len(all), 60)
		for range rapid.IntRange(1, 4).Draw(t, "changes") {
			x := all[rapid.IntRange(0, len(all)-1).Draw(t, "which")]
			x.v.SetFloat(oneOf(t, x.path, x.lo, x.hi))
		}
		if r.Validate() != nil {
			t.Skip("the change contradicts another field")
		}
		p, err := ComputeWith(context.Background(), r, Options{WithoutFixes: true, Budget: 1000, Days: 20})
		require.NoError(t, err)
		_, err = json.Marshal(p)
		require.NoError(t, err)
		require.Empty(t, broken(&r, &p))
	})
}
