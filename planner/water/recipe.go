package water

import "math"

// Recipe is how brewing water is made from the tank, the tap and the concentrates.
type Recipe struct {
	Share        float64 // of a fill, from the tank; the rest is tap water
	Concentrates []Concentrate
	source       Ions
	blend        bool // the tank holds demineralised water; else the source itself
}

// RecipeFor returns the recipe for containers of sizeL L (0: any amount). Where the source is to be diluted, the tank holds
// demineralised water and the rest of a fill is the source, from the tap. Where it is not, the tank holds the source, and all of a fill
// comes from there.
func RecipeFor(start Ions, target Target, onHand []string, sizeL float64) Recipe {
	const volume = 100.0
	d := Dose(volume, start, target, onHand)
	r := Recipe{Share: d.DemineralisedShare, Concentrates: d.Concentrates(volume, sizeL), blend: d.DemineralisedShare > 0}
	r.source, _ = start.Closed()
	if !r.blend {
		r.Share = 1
	}
	return r
}

// smallFillL is the volume below which water is measured to 10 mL instead of 0.1 L.
const smallFillL = 5

func (r *Recipe) tankOf(volumeL float64) float64 {
	step := 0.1
	if volumeL < smallFillL {
		step = 0.01
	}
	return min(volumeL, math.Round(r.Share*volumeL/step)*step)
}

// TankL is the water from the tank for a volume in containers of sizeL L, as it is measured for each, L.
func (r *Recipe) TankL(volumeL, sizeL float64) float64 {
	if sizeL <= 0 {
		return r.tankOf(volumeL)
	}
	full := math.Floor(volumeL/sizeL + 1e-9)
	return full*r.tankOf(sizeL) + r.tankOf(max(0, volumeL-full*sizeL))
}

// ML is the concentrate for a volume, mL, to the half millilitre.
func (c Concentrate) ML(volumeL float64) float64 { return math.Round(c.MLPerL*volumeL*2) / 2 }

// Result is the water of one fill made to the recipe as it is measured.
func (r *Recipe) Result(volumeL float64) Ions {
	w := r.source
	if r.blend {
		w = r.source.Times(1 - r.tankOf(volumeL)/volumeL)
	}
	for _, c := range r.Concentrates {
		need := c.ML(volumeL)
		m := c.Mix(need)
		for _, a := range m.Salts {
			s, _ := saltNamed(a.Salt)
			w = w.plus(s.perGram.Times(a.G / m.MakesML * need / volumeL))
		}
	}
	return w
}

// Salts are the salts in a volume's concentrates, g.
func (r *Recipe) Salts(volumeL float64) []Addition {
	var out []Addition
	for _, c := range r.Concentrates {
		for _, a := range c.Salts {
			out = append(out, Addition{a.Salt, a.G / 1000 * c.ML(volumeL)})
		}
	}
	return out
}
