package ice

import "math"

// Properties of water and ice as they freeze, SI (IAPWS, rounded). The load keeps the volume of its ice.
const (
	density           = 917.0
	latentJ           = LatentHeat * 1000
	iceConductivity   = 2.22
	waterConductivity = 0.57 // at rest: no convection
	iceHeat           = 2050.0
	waterHeat         = 4200.0
)

const (
	cells     = 20
	heatSteps = 90 // the heat between start and end leaves in about so many steps
)

// conduction is the load cut into shells of equal thickness, 0 at the middle (or at the insulated face), the film outside
// the last. Enthalpy is J/kg above water at 0 °C: at or above 0 liquid, at or below −L ice, between them freezing at 0 °C with
// the ice on the outer side.
type conduction struct {
	dx       float64
	volume   [cells]float64
	face     [cells]float64 // area of the outer face of each shell
	film     float64        // W/K of the film over the outermost face
	air      float64
	enthalpy [cells]float64
}

func newConduction(m Mould) *conduction {
	c := &conduction{dx: m.halfWay() / cells, air: m.AirC}
	for i := range cells {
		in, out := float64(i)*c.dx, float64(i+1)*c.dx
		switch m.Geometry {
		case Cylinder:
			c.face[i], c.volume[i] = out, (out*out-in*in)/2
		case Sphere:
			c.face[i], c.volume[i] = out*out, (out*out*out-in*in*in)/3
		default:
			c.face[i], c.volume[i] = 1, c.dx
		}
		c.enthalpy[i] = waterHeat * m.WaterC
	}
	c.film = m.HWm2K * c.face[cells-1]
	return c
}

// tempOf is °C at an enthalpy, slopeOf its derivative.
func tempOf(h float64) float64 {
	switch {
	case h >= 0:
		return h / waterHeat
	case h <= -latentJ:
		return (h + latentJ) / iceHeat
	}
	return 0
}

func slopeOf(h float64) float64 {
	switch {
	case h >= 0:
		return 1 / waterHeat
	case h <= -latentJ:
		return 1 / iceHeat
	}
	return 0
}

// frozen is the frozen share of a shell at enthalpy h.
func frozen(h float64) float64 { return min(max(-h/latentJ, 0), 1) }

// resistances are m·K/W·m per unit of area between the place where the shell's temperature holds and its outer and inner
// faces: the middle of a shell in one phase, the ice front of a shell that is freezing. Letting the front move through the
// shell takes away the staircase of the plain enthalpy method, so that few shells do.
func (c *conduction) resistances(before, now float64) (outer, inner float64) {
	f := (frozen(before) + frozen(now)) / 2
	switch {
	case before >= 0 && now >= 0:
		return c.dx / 2 / waterConductivity, c.dx / 2 / waterConductivity
	case before <= -latentJ && now <= -latentJ:
		return c.dx / 2 / iceConductivity, c.dx / 2 / iceConductivity
	}
	return f * c.dx / iceConductivity, (1 - f) * c.dx / waterConductivity
}

// solve follows the load until its middle is ice (or at FinalC) and returns the seconds and the mean temperature then.
// Implicit in time, each step taking about the same heat out, Newton for the enthalpies.
func (m Mould) solve() (seconds, meanC float64) {
	c := newConduction(m)
	goal := -latentJ
	if m.FinalC != nil {
		goal += iceHeat * *m.FinalC
	}
	total := 0.0 // J between the start and all ice at 0 °C
	for i := range cells {
		total += c.volume[i] * density * (c.enthalpy[i] + latentJ)
	}
	minStep := 0.0
	for range 20 * heatSteps {
		before := c.enthalpy
		dt := max(c.stepSeconds(total), minStep)
		for !c.advance(before, dt) {
			dt /= 2
		}
		if c.enthalpy[0] <= goal {
			// Within the step the middle loses its heat evenly enough to interpolate.
			share := 1.0
			if d := before[0] - c.enthalpy[0]; d > 0 {
				share = (before[0] - goal) / d
			}
			for i := range c.enthalpy {
				c.enthalpy[i] = before[i] + share*(c.enthalpy[i]-before[i])
			}
			return seconds + share*dt, c.meanC()
		}
		seconds += dt
		minStep = seconds * 1e-4
	}
	return math.Inf(1), m.AirC
}

// stepSeconds is the time in which the present heat flow takes out one part in heatSteps of the total, or of what is left
// to give when all is ice already.
func (c *conduction) stepSeconds(total float64) float64 {
	outer, _ := c.resistances(c.enthalpy[cells-1], c.enthalpy[cells-1])
	flow := (tempOf(c.enthalpy[cells-1]) - c.air) / (1/c.film + outer/c.face[cells-1])
	part := total
	if c.enthalpy[0] <= -latentJ {
		part = 0
		for i := range cells {
			part += c.volume[i] * density * (c.enthalpy[i] + latentJ - iceHeat*c.air)
		}
		part *= 3
	}
	return part / heatSteps / flow
}

// advance sets the enthalpies to those after dt seconds from before; false when Newton does not settle.
func (c *conduction) advance(before [cells]float64, dt float64) bool {
	var temp, slope, outer, inner, cond, upper, right [cells]float64
	for range 25 {
		for i, h := range c.enthalpy {
			temp[i], slope[i] = tempOf(h), slopeOf(h)
			outer[i], inner[i] = c.resistances(before[i], h)
		}
		for i := range cells - 1 {
			cond[i] = c.face[i] / (outer[i] + inner[i+1])
		}
		last := cells - 1
		cond[last] = 1 / (1/c.film + outer[last]/c.face[last])
		// One sweep of the tridiagonal solve for the Newton step.
		worst, pass := 0.0, 0.0
		for i := range cells {
			mass := c.volume[i] * density / dt
			next := c.air
			if i < last {
				next = temp[i+1]
			}
			res := mass*(c.enthalpy[i]-before[i]) + cond[i]*(temp[i]-next)
			diag := mass + cond[i]*slope[i]
			lower := 0.0
			if i > 0 {
				res += cond[i-1] * (temp[i] - temp[i-1])
				diag += cond[i-1] * slope[i]
				lower = -cond[i-1] * slope[i-1]
			}
			worst = max(worst, math.Abs(res)/mass)
			diag -= lower * pass
			right[i] = -res
			if i > 0 {
				right[i] -= lower * right[i-1]
			}
			right[i] /= diag
			if i < last {
				upper[i] = -cond[i] * slope[i+1] / diag
				pass = upper[i]
			}
		}
		if worst < 1 { // J/kg
			return true
		}
		step := right[last]
		for i := last; i >= 0; i-- {
			if i < last {
				step = right[i] - upper[i]*step
			}
			c.enthalpy[i] = crossing(c.enthalpy[i], c.enthalpy[i]+step)
		}
	}
	c.enthalpy = before
	return false
}

// crossing holds a Newton step at the phase boundary that it would jump over, where the slope changes.
func crossing(from, to float64) float64 {
	switch {
	case from > 0 && to < 0, from < 0 && to > 0:
		return 0
	case from > -latentJ && to < -latentJ, from < -latentJ && to > -latentJ:
		return -latentJ
	}
	return to
}

func (c *conduction) meanC() float64 {
	var sum, volume float64
	for i := range cells {
		sum += c.volume[i] * tempOf(c.enthalpy[i])
		volume += c.volume[i]
	}
	return sum / volume
}
