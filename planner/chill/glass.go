package chill

import "math"

// Glass is a drink poured over serving ice. The results are estimates: ice and drink are assumed to reach equilibrium before
// the first sip, and nothing to be drunk before the last.
type Glass struct {
	Mix        Mix     // the drink and its serving ice, with the glass as the vessel
	CupUAWPerK float64 // heat transfer from the room, W/K: about 0.4 for a 0.4 L cup in still air, 0.03 m² at 10–15 W/(m²·K); half with a double wall (common practice, no source)
	RoomC      float64
}

// FirstSip is the drink in equilibrium with its ice, before any heat from the room.
func (g Glass) FirstSip() State { return g.Mix.Settle() }

// LastSip is the drink after the given minutes in the room: the ice melts at UA·T_room/(h_w(0) − h_i(0)), then the drink warms.
func (g Glass) LastSip(minutes float64) State {
	first := g.FirstSip()
	if first.Regime == WouldFreeze || g.RoomC <= first.FinalC {
		return first
	}
	seconds := minutes * 60
	if first.IceLeftG > 0 {
		latent := WaterEnthalpy(0) - IceEnthalpy(0) // J/g
		rate := g.CupUAWPerK * g.RoomC / latent     // g/s
		if rate*seconds < first.IceLeftG {
			return g.Mix.after(first.IceMeltedG+rate*seconds, 0, IceLeft)
		}
		seconds -= first.IceLeftG / rate
	}
	s := g.Mix.after(g.Mix.IceG, first.FinalC, AllMelted)
	c := s.FinalG*4.19 + g.Mix.VesselJPerK
	s.FinalC = g.RoomC - (g.RoomC-first.FinalC)*math.Exp(-seconds*g.CupUAWPerK/c)
	return s
}
