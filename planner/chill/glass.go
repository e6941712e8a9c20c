package chill

import "math"

// CupUAWPerK is the heat a cold cup of about 0.4 L takes from still room air, W/K: 0.03 m² at 10–15 W/(m²·K). Common
// practice, no source; half of it for a double wall.
const CupUAWPerK = 0.4

// Glass is a drink poured over serving ice. What comes of it is an estimate: ice and drink are taken to meet in full before
// the first sip, and the drink to stay whole until the last.
type Glass struct {
	Mix        Mix     // the drink and its serving ice; vessel and gain count for the cold glass
	CupUAWPerK float64 // heat from the room, W/K
	RoomC      float64
}

// FirstSip is the drink when its own heat has melted what it can.
func (g Glass) FirstSip() State { return g.Mix.Settle() }

// LastSip is the drink after minutes in the room: the ice melts by UA·T_room·t/(h_w(0) − h_i(0)), then the drink warms.
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
