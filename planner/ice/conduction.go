package ice

import "math"

// Properties of water and ice near 0 °C, SI (IAPWS, rounded). Expansion on freezing is neglected: the density is that of ice.
const (
	density           = 917.0
	latentJ           = LatentHeat * 1000
	iceConductivity   = 2.22
	waterConductivity = 0.57 // no convection
	iceHeat           = 2050.0
	waterHeat         = 4200.0
)

const (
	cells     = 20
	newtonTol = 1e-3 // tolerance of the Newton iteration: residual in a shell as a share of the step's heat
	heatSteps = 200  // time steps, each of which removes about the same heat
)

// grid is a one-dimensional grid of shells of equal thickness: shell 0 at the centre (or at the insulated face), the
// surface film outside the last. Enthalpy is J/kg relative to water at 0 °C: liquid at or above 0, ice at or below −L, and in
// between freezing at 0 °C with the ice on the outer side.
type grid struct {
	dx       float64
	volume   [cells]float64
	face     [cells]float64 // area of the outer face of each shell
	film     float64        // conductance of the surface film, W/K
	air      float64
	enthalpy [cells]float64
}

func newGrid(m Mould) *grid {
	c := &grid{dx: m.depth() / cells, air: m.AirC}
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

// tempOf is the temperature, °C, at enthalpy h.
func tempOf(h float64) float64 {
	switch {
	case h >= 0:
		return h / waterHeat
	case h <= -latentJ:
		return (h + latentJ) / iceHeat
	}
	return 0
}

// slopeOf is the derivative of tempOf.
func slopeOf(h float64) float64 {
	switch {
	case h >= 0:
		return 1 / waterHeat
	case h <= -latentJ:
		return 1 / iceHeat
	}
	return 0
}

// iceFraction is the ice fraction of a shell at enthalpy h.
func iceFraction(h float64) float64 { return min(max(-h/latentJ, 0), 1) }

// resistances are the thermal resistances, m²·K/W, from the node of a shell to its outer and inner faces. The node is the
// middle of a shell in one phase, and the ice front, at mid-step, of a shell that is freezing. Moving the front through the
// shell avoids the stepwise progress of the plain enthalpy method, so few shells are enough. slope is the derivative of the
// front's position by the enthalpy now, as a share of the shell per J/kg.
func (c *grid) resistances(before, now float64) (outer, inner, slope float64) {
	switch {
	case before >= 0 && now >= 0:
		return c.dx / 2 / waterConductivity, c.dx / 2 / waterConductivity, 0
	case before <= -latentJ && now <= -latentJ:
		return c.dx / 2 / iceConductivity, c.dx / 2 / iceConductivity, 0
	}
	f := (iceFraction(before) + iceFraction(now)) / 2
	if now < 0 && now > -latentJ {
		slope = -0.5 / latentJ
	}
	return f * c.dx / iceConductivity, (1 - f) * c.dx / waterConductivity, slope
}

// solve integrates until the centre is ice (or at FinalC) and returns the time, s, and the mean temperature at that time, °C.
// Implicit in time, with steps that remove about the same heat; Newton's method solves for the enthalpies.
func (m Mould) solve() (seconds, meanC float64) {
	c := newGrid(m)
	goal := -latentJ
	if m.FinalC != nil {
		goal += iceHeat * *m.FinalC
	}
	total := 0.0 // heat to remove until all is ice at 0 °C, J
	for i := range cells {
		total += c.volume[i] * density * (c.enthalpy[i] + latentJ)
	}
	for range 40 * heatSteps {
		before := c.enthalpy
		dt, loss := c.timeStep(total)
		for !c.advance(&before, dt, newtonTol*loss) {
			if dt /= 2; dt < 1e-12*seconds {
				return math.Inf(1), m.AirC
			}
		}
		if c.enthalpy[0] <= goal {
			// Within a step the centre loses heat evenly enough to interpolate.
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

// timeStep is the next time step, s, and the mean heat that it removes, J/kg: 1/heatSteps of the total, or of the heat left once all
// is ice. Near the centre of a cylinder or sphere it is the heat of a layer of 1/heatSteps of the depth, so that the end is not
// skipped in one step. Half of the layer that the step itself freezes counts as resistance: without it the first steps under a
// thin film would be far too short.
func (c *grid) timeStep(total float64) (seconds, lossPerKg float64) {
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

// advance sets the enthalpies to those dt seconds after before, to within allowed J/kg. It restores before and returns false
// if Newton's method does not converge.
func (c *grid) advance(before *[cells]float64, dt, allowed float64) bool {
	var upper, step [cells]float64
	for range 30 {
		// Forward sweep of the tridiagonal system J·step = −residual. flow is the heat flow out through a shell's outer
		// face, byOwn and byNext its derivatives.
		worst := 0.0
		flowIn, inByOwn, inByNext := 0.0, 0.0, 0.0 // through the inner face
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
			c.enthalpy[i] = stopAtPhaseChange(c.enthalpy[i], c.enthalpy[i]+step[i])
		}
	}
	c.enthalpy = *before
	return false
}

// shellState holds a shell's temperature and resistances with their derivatives by its enthalpy.
type shellState struct {
	temp, tempSlope        float64
	outer, inner           float64
	outerSlope, innerSlope float64
}

func (c *grid) shell(i int, before *[cells]float64) shellState {
	h := c.enthalpy[i]
	s := shellState{temp: tempOf(h), tempSlope: slopeOf(h)}
	var front float64
	s.outer, s.inner, front = c.resistances(before[i], h)
	s.outerSlope, s.innerSlope = front*c.dx/iceConductivity, -front*c.dx/waterConductivity
	return s
}

// flow is the heat flow, W, out of shell i, into shell i+1 or through the film, and its derivatives by both enthalpies.
func (c *grid) flow(i int, now, next shellState) (flow, byOwn, byNext float64) {
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

// stopAtPhaseChange stops a Newton step at the first phase boundary it would cross, where the slope changes.
func stopAtPhaseChange(from, to float64) float64 {
	switch {
	case from > 0 && to < 0, from < 0 && to > 0:
		return 0
	case from > -latentJ && to < -latentJ, from < -latentJ && to > -latentJ:
		return -latentJ
	}
	return to
}

func (c *grid) meanC() float64 {
	var sum, volume float64
	for i := range cells {
		sum += c.volume[i] * tempOf(c.enthalpy[i])
		volume += c.volume[i]
	}
	return sum / volume
}
