// Computes testdata/checks/freeze-grid.csv: freezing times by explicit finite differences in enthalpy, written independently of the
// planner's implicit, front-following solution. Run it in the module's root:
//
//	go run ./planner/ice/freezegrid > testdata/checks/freeze-grid.csv
//
// Water at the start temperature, film outside, no convection inside; ice 917 kg/m³, 2.22 W/m·K, 2050 J/kg·K, 333.4 kJ/kg;
// water 0.57 W/m·K, 4200 J/kg·K. Cells of equal thickness, harmonic conductances, until the last cell's latent heat is gone
// (or the middle is at final_temp_c); extrapolated to no thickness from 24 and 48 cells. Points from a Halton sequence over
// 5–100 mm, h 5–300 W/m²K, air −8…−40 °C, water 1–30 °C.
package main

import (
	"fmt"
	"math"
)

const (
	rho, latent = 917.0, 333400.0
	ki, kw      = 2.22, 0.57
	ci, cw      = 2050.0, 4200.0
)

type load struct {
	geometry                        string
	sides                           int
	mm, water, air, film, finalTemp float64
	final                           bool
}

func main() {
	fmt.Println("thickness_mm,geometry,sides,water_temp_c,air_temp_c,h_w_m2k,final_temp_c,freeze_min")
	shapes := []load{{geometry: "slab", sides: 2}, {geometry: "slab", sides: 1}, {geometry: "cylinder", sides: 2}, {geometry: "sphere", sides: 2}}
	for i := 1; i <= 120; i++ {
		l := shapes[i%4]
		l.mm = math.Round(10*between(halton(i, 2), 5, 100)) / 10
		l.film = math.Round(10*between(halton(i, 3), 5, 300)) / 10
		l.air = -math.Round(10*(8+32*halton(i, 5))) / 10
		l.water = math.Round(10*(1+29*halton(i, 7))) / 10
		final := ""
		if i%3 == 0 {
			l.final, l.finalTemp = true, math.Round(10*l.air*0.8*halton(i, 11))/10
			final = fmt.Sprint(l.finalTemp)
		}
		t := (2*l.seconds(48) - l.seconds(24)) / 60
		fmt.Printf("%g,%s,%d,%g,%g,%g,%s,%.2f\n", l.mm, l.geometry, l.sides, l.water, l.air, l.film, final, t)
	}
}

// between spreads u over lo…hi by its logarithm.
func between(u, lo, hi float64) float64 { return lo * math.Pow(hi/lo, u) }

func halton(i, base int) float64 {
	f, r := 1.0, 0.0
	for ; i > 0; i /= base {
		f /= float64(base)
		r += f * float64(i%base)
	}
	return r
}

func (l load) seconds(n int) float64 {
	deep := l.mm / 2000
	if l.sides == 1 && l.geometry == "slab" {
		deep = l.mm / 1000
	}
	dx := deep / float64(n)
	power := map[string]float64{"slab": 0, "cylinder": 1, "sphere": 2}[l.geometry]
	area := make([]float64, n+1) // 0 at the middle
	for i := range area {
		area[i] = math.Pow(float64(i)*dx, power)
	}
	area[0] = 0
	vol := make([]float64, n)
	for i := range vol {
		a, b := float64(i)*dx, float64(i+1)*dx
		vol[i] = (math.Pow(b, power+1) - math.Pow(a, power+1)) / (power + 1)
	}
	h, temp := make([]float64, n), make([]float64, n)
	for i := range h {
		h[i], temp[i] = cw*l.water, l.water
	}
	dt := 0.2 * dx * dx * rho * ci / ki
	goal := -latent
	if l.final {
		goal += ci * l.finalTemp
	}
	k := func(e float64) float64 {
		f := math.Min(math.Max(-e/latent, 0), 1)
		return kw + f*(ki-kw)
	}
	flux := make([]float64, n+1) // W outward over each face
	for step := 1.0; ; step++ {
		for i := 1; i < n; i++ {
			flux[i] = area[i] / (dx/2/k(h[i-1]) + dx/2/k(h[i])) * (temp[i-1] - temp[i])
		}
		flux[n] = area[n] / (dx/2/k(h[n-1]) + 1/l.film) * (temp[n-1] - l.air)
		before := h[0]
		for i := range h {
			h[i] -= dt * (flux[i+1] - flux[i]) / (vol[i] * rho)
			switch {
			case h[i] >= 0:
				temp[i] = h[i] / cw
			case h[i] <= -latent:
				temp[i] = (h[i] + latent) / ci
			default:
				temp[i] = 0
			}
		}
		if h[0] <= goal {
			return dt * (step - 1 + (before-goal)/(before-h[0]))
		}
	}
}
