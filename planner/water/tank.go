package water

import "math"

// Tank is the tank behind the treatment over equal slots, L.
type Tank struct {
	Opening, Size float64
	Make          []float64 // the most that the treatment makes, by slot
	Taken         []float64 // taken straight from the tank, by slot: by plumbed ice machines, to rinse
}

// TankRun is the course of a tank, L by slot.
type TankRun struct {
	Before []float64 // at the start of the slot, before fills
	Level  []float64 // at the end of the slot
	Made   []float64 // by the treatment, which stops while the tank is full
	Lack   []float64 // of the water to be taken straight from the tank, missing
}

// Run runs the tank with fills drawn from it at the starts of slots, L by slot.
func (k *Tank) Run(drawn []float64) TankRun {
	n := len(k.Make)
	r := TankRun{Before: make([]float64, n), Level: make([]float64, n), Made: make([]float64, n), Lack: make([]float64, n)}
	k.run(&r, drawn, 0)
	return r
}

// run brings the slots from a slot on up to date.
func (k *Tank) run(r *TankRun, drawn []float64, from int) {
	level := min(k.Opening, k.Size)
	if from > 0 {
		level = r.Level[from-1]
	}
	for t := from; t < len(k.Make); t++ {
		r.Before[t] = level
		level = max(0, level-drawn[t])
		r.Made[t] = min(k.Make[t], max(0, k.Size-level+k.Taken[t]))
		level += r.Made[t] - k.Taken[t]
		r.Lack[t] = 0
		if level < -1e-9 {
			r.Lack[t] = -level
		}
		level = min(max(0, level), k.Size)
		r.Level[t] = level
	}
}

// most returns the most that can be drawn at the start of slot t beside what is drawn already, so that nobody else goes short later.
// What is drawn makes room that the treatment fills where it would have stood still.
func (k *Tank) most(r *TankRun, drawn []float64, t int) float64 {
	x := r.Before[t] - drawn[t]
	refilled := 0.0
	for s := t; s < len(k.Make) && refilled < x; s++ {
		x = min(x, r.Before[s]-drawn[s]+refilled)
		refilled += k.Make[s] - r.Made[s]
		x = min(x, r.Level[s]+refilled)
	}
	return max(0, x)
}

// Available returns the most that can have been drawn up to and including the start of each slot, L: at every slot in which somebody
// may fill, as much as the tank can give without leaving too little for what is taken straight from it.
func (k *Tank) Available(may []bool) []float64 {
	n := len(k.Make)
	drawn, out := make([]float64, n), make([]float64, n)
	r := k.Run(drawn)
	sum := 0.0
	for t := range out {
		if may[t] {
			if x := k.most(&r, drawn, t); x > 1e-9 {
				drawn[t] = x
				k.run(&r, drawn, t)
				sum += x
			}
		}
		out[t] = sum
	}
	return out
}

// Fills are the containers of brewing water to prepare.
type Fills struct {
	Recipe    Recipe
	SizeL     float64   // of a container; 0: any amount in whole litres
	CarriedL  float64   // brewing water in containers at the start
	FillMin   float64   // to fill a container
	SlotMin   float64   // length of a slot
	RoomMin   []float64 // by slot: how long somebody is there from its start with the tank in order, min; 0: nobody, or it is out
	Until     []int     // by slot: a fill for it is also for the uses before this slot
	KeepSlots int       // how many slots before its use water may be filled
}

// Filling is the result of planning fills, by slot.
type Filling struct {
	Volume []float64 // filled at the start of the slot, L
	Drawn  []float64 // of that, from the tank
	Lack   []float64 // of the use, for which no water is there in time, L
	Run    TankRun
}

// Containers is the number of containers for a volume, L. Where no size is given they are thought to hold up to 20 L.
func Containers(volumeL, sizeL float64) int {
	if sizeL <= 0 {
		sizeL = 20
	}
	return int(math.Ceil(volumeL/sizeL - 1e-9))
}

// Fill plans the fills for the use of brewing water by slot, L: each before its water is used, as late as people and the tank
// allow, in whole containers but for the last, which holds what is still needed. Water left in a container is used later. A fill that
// the tank cannot give at once is split, the rest filled earlier.
func (k *Tank) Fill(use []float64, f Fills) Filling {
	n := len(use)
	p := &filler{Fills: f, tank: k, due: make([]int, n), Filling: Filling{Volume: make([]float64, n), Drawn: make([]float64, n), Lack: make([]float64, n)}}
	for t := range p.due {
		p.due[t] = n
	}
	p.Run = k.Run(p.Drawn)
	rest := make([]float64, n+1)
	for t := n - 1; t >= 0; t-- {
		rest[t] = rest[t+1] + use[t]
	}
	stock := f.CarriedL
	for t := range use {
		if now := use[t] - stock; now > 1e-6 {
			until := min(max(t+1, f.Until[t]), n)
			stock += p.place(now, rest[t]-rest[until]-stock, rest[t]-stock, t)
		}
		if p.Lack[t] = max(0, use[t]-stock); p.Lack[t] < 1e-6 {
			p.Lack[t] = 0
		}
		stock = max(0, stock-use[t])
	}
	return p.Filling
}

type filler struct {
	Fills
	Filling
	tank *Tank
	due  []int // by slot of a fill: the first use it is for
}

// place fills water for a use in slot t and returns the volume, L: now is needed in that slot, soon with the uses grouped with it, and
// all in the slots to come.
func (p *filler) place(now, soon, all float64, t int) float64 {
	want := math.Ceil(soon - 1e-6)
	if p.SizeL > 0 {
		want = min(math.Ceil(soon/p.SizeL-1e-6)*p.SizeL, max(soon, math.Ceil(all-1e-6)))
	}
	for _, volume := range []float64{want, math.Ceil(now - 1e-6), math.Ceil(now*10-1e-6) / 10} { // at one time, in whole litres where the tank has them
		if volume > want || volume < 1 {
			continue
		}
		for s := t; s >= max(0, t-p.KeepSlots); s-- {
			if p.fits(s, t, volume) && p.gives(s, volume) {
				p.put(s, t, volume)
				return volume
			}
		}
	}
	placed := 0.0
	for s := t; s >= max(0, t-p.KeepSlots) && placed < now-1e-6; s-- {
		x := min(math.Ceil(now-placed-1e-6), math.Floor(p.tank.most(&p.Run, p.Drawn, s)/max(p.Recipe.Share, 1e-9)+1e-9))
		for x >= 1 && !p.fits(s, t, x) {
			x = min(x-1, float64(Containers(x, p.SizeL)-1)*p.containerL())
		}
		for x >= 1 && !p.gives(s, x) {
			x--
		}
		if x >= 1 {
			p.put(s, t, x)
			placed += x
		}
	}
	return placed
}

func (p *filler) containerL() float64 {
	if p.SizeL > 0 {
		return p.SizeL
	}
	return 20
}

// fits reports whether somebody can fill the volume at slot s, beside what is filled then already, before it is needed.
func (p *filler) fits(s, t int, volume float64) bool {
	m := float64(Containers(p.Volume[s]+volume, p.SizeL)) * p.FillMin
	return p.RoomMin[s] > 0 && m <= p.RoomMin[s]+1e-9 && m <= float64(min(t, p.due[s])-s)*p.SlotMin+1e-9
}

// gives reports whether the tank can give its part of the volume at slot s.
func (p *filler) gives(s int, volume float64) bool {
	return p.Recipe.TankL(p.Volume[s]+volume, p.SizeL)-p.Drawn[s] <= p.tank.most(&p.Run, p.Drawn, s)+1e-9
}

func (p *filler) put(s, t int, volume float64) {
	p.Volume[s] += volume
	p.Drawn[s] = p.Recipe.TankL(p.Volume[s], p.SizeL)
	p.due[s] = min(p.due[s], t)
	p.tank.run(&p.Run, p.Drawn, s)
}
