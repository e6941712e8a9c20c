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
	cells       = 20
	newtonShare = 1e-3 // of the heat of a step that Newton may leave over in a shell
	heatSteps   = 200  // the heat between start and end leaves in about so many steps
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

// resistances are m²·K/W between the place where the shell's temperature holds and its outer and inner faces: the middle of
// a shell in one phase, the ice front of a shell that is freezing, as it is in the middle of the step. Letting the front move
// through the shell takes away the staircase of the plain enthalpy method, so that few shells do. slope is the change of
// the front's place with the enthalpy now, as a share of the shell per J/kg.
func (c *conduction) resistances(before, now float64) (outer, inner, slope float64) {
	switch {
	case before >= 0 && now >= 0:
		return c.dx / 2 / waterConductivity, c.dx / 2 / waterConductivity, 0
	case before <= -latentJ && now <= -latentJ:
		return c.dx / 2 / iceConductivity, c.dx / 2 / iceConductivity, 0
	}
	f := (frozen(before) + frozen(now)) / 2
	if now < 0 && now > -latentJ {
		slope = -0.5 / latentJ
	}
	return f * c.dx / iceConductivity, (1 - f) * c.dx / waterConductivity, slope
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
	for range 40 * heatSteps {
		before := c.enthalpy
		dt, loss := c.step(total)
		for !c.advance(&before, dt, newtonShare*loss) {
			if dt /= 2; dt < 1e-12*seconds {
				return math.Inf(1), m.AirC
			}
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
	}
	return math.Inf(1), m.AirC
}

// step is the time in which about one part in heatSteps of the total leaves, or of what is left to give when all is ice
// already, and the J/kg that the load loses in it by the mean. Near the middle of a cylinder or sphere it is what a layer of
// one part in heatSteps of the depth gives, so that the end is not taken in one stride. The layer that the step itself
// freezes counts by half in the way of the heat: without it the first steps under a thin film would be far too short.
func (c *conduction) step(total float64) (seconds, lossPerKg float64) {
	last := cells - 1
	outer, _, _ := c.resistances(c.enthalpy[last], c.enthalpy[last])
	thick := c.dx * cells / heatSteps
	layer := thick / 2 / iceConductivity
	part := total / heatSteps
	if c.enthalpy[0] <= -latentJ {
		layer, part = 0, 0
		for i := range cells {
			part += 3 * c.volume[i] * density * (c.enthalpy[i] + latentJ - iceHeat*c.air) / heatSteps
		}
	} else {
		front := last
		for front > 0 && c.enthalpy[front] <= -latentJ {
			front--
		}
		part = min(part, c.face[front]*thick*density*latentJ)
	}
	mass := 0.0
	for _, v := range c.volume {
		mass += v * density
	}
	return part * (1/c.film + (outer+layer)/c.face[last]) / (tempOf(c.enthalpy[last]) - c.air), part / mass
}

// advance sets the enthalpies to those after dt seconds from before, to within allowed J/kg; false when Newton does not
// settle.
func (c *conduction) advance(before *[cells]float64, dt, allowed float64) bool {
	var upper, step [cells]float64
	for range 30 {
		// Forward sweep of the tridiagonal system J·step = −residual; flow is what leaves a shell outward, byOwn and
		// byNext its derivatives.
		worst := 0.0
		flowIn, inByOwn, inByNext := 0.0, 0.0, 0.0 // from the shell within
		now := c.shell(0, before)
		for i := range cells {
			var next shellState
			if i < cells-1 {
				next = c.shell(i+1, before)
			}
			flow, byOwn, byNext := c.flow(i, now, next)
			mass := c.volume[i] * density / dt
			res := mass*(c.enthalpy[i]-before[i]) + flow - flowIn
			worst = max(worst, math.Abs(res)/mass)
			diag := mass + byOwn - inByNext
			step[i] = -res
			if i > 0 {
				diag += inByOwn * upper[i-1]
				step[i] += inByOwn * step[i-1]
			}
			upper[i] = byNext / diag
			step[i] /= diag
			flowIn, inByOwn, inByNext, now = flow, byOwn, byNext, next
		}
		if worst < allowed {
			return true
		}
		for i := cells - 1; i >= 0; i-- {
			if i < cells-1 {
				step[i] -= upper[i] * step[i+1]
			}
			c.enthalpy[i] = crossing(c.enthalpy[i], c.enthalpy[i]+step[i])
		}
	}
	c.enthalpy = *before
	return false
}

// shellState is what a shell's enthalpy means for the flow of heat.
type shellState struct {
	temp, tempSlope        float64
	outer, inner           float64
	outerSlope, innerSlope float64
}

func (c *conduction) shell(i int, before *[cells]float64) shellState {
	h := c.enthalpy[i]
	s := shellState{temp: tempOf(h), tempSlope: slopeOf(h)}
	var front float64
	s.outer, s.inner, front = c.resistances(before[i], h)
	s.outerSlope, s.innerSlope = front*c.dx/iceConductivity, -front*c.dx/waterConductivity
	return s
}

// flow is the heat, W, that leaves shell i outward, to shell i+1 or through the film, and its derivatives by the enthalpies.
func (c *conduction) flow(i int, now, next shellState) (flow, byOwn, byNext float64) {
	if i == cells-1 {
		cond := 1 / (1/c.film + now.outer/c.face[i])
		drop := now.temp - c.air
		return cond * drop, cond*now.tempSlope - drop*cond*cond/c.face[i]*now.outerSlope, 0
	}
	cond := c.face[i] / (now.outer + next.inner)
	drop := now.temp - next.temp
	bend := drop * cond * cond / c.face[i]
	return cond * drop, cond*now.tempSlope - bend*now.outerSlope, -cond*next.tempSlope - bend*next.innerSlope
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
