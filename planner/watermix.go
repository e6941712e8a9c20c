package planner

import (
	"math"
	"time"

	"hotday/models"
	"hotday/planner/water"
)

const (
	mixMin    = 10.0 // to weigh, dissolve and label a bottle of concentrate, min; common practice, no source
	mixKeepsH = 168  // a concentrate is kept cold for a week at most; common practice, no source
)

// listMixes lists the concentrates to mix: a bottle of each for the fills of a week, before the first of them, unless one that was mixed
// within the week is enough.
func (bp *brewPlan) listMixes(w *waterPlan) {
	busy := bp.expectedDrinks()
	for i := range bp.batches { // mixing keeps out of the way of batches
		busy[bp.batches[i].slot] += 10
	}
	room := bp.peopleRoom()
	after := models.Minutes(0) // bottles are mixed one after the other
	for _, c := range w.recipe.Concentrates {
		good, left := bp.mixed(c)
		need := 0.0
		for i := range w.draws {
			d := &w.draws[i]
			ml := c.ML(d.DrawL)
			if d.At.Before(good) && left >= ml-1e-9 {
				left -= ml
				continue
			}
			if need = bp.weekOf(w, i, c); need <= 0 {
				continue
			}
			m := c.Mix(need)
			at := models.Earlier(bp.calmTime(busy, room, d.At, len(w.recipe.Concentrates)).Add(after), d.At)
			good, left = at.Add(mixKeepsH*time.Hour), m.MakesML-ml
			w.mixes = append(w.mixes, models.Mix{At: at.In(bp.loc), Code: c.Code, Salts: saltDoses(m.Salts), WaterML: m.WaterML, MakesML: m.MakesML, MLPerL: c.MLPerL, GoodTo: good.In(bp.loc)})
		}
		after += models.Minutes(mixMin)
	}
}

func saltDoses(list []water.Addition) []models.SaltDose {
	out := []models.SaltDose{}
	for _, a := range list {
		out = append(out, models.SaltDose{Salt: a.Salt, G: a.G})
	}
	return out
}

// weekOf is the concentrate for fill i and those in the week after it, mL.
func (bp *brewPlan) weekOf(w *waterPlan, i int, c water.Concentrate) float64 {
	ml := 0.0
	for k := i; k < len(w.draws) && w.draws[k].At.Before(w.draws[i].At.Add(mixKeepsH*time.Hour)); k++ {
		ml += c.ML(w.draws[k].DrawL)
	}
	return ml
}

// mixed returns how long the last bottle of a concentrate that was mixed is good and what is left in it, less the fills made since,
// mL. A bottle of another recipe does not count.
func (st *setting) mixed(c water.Concentrate) (good time.Time, ml float64) {
	var start time.Time
	for i := range st.req.UnderWay {
		u := &st.req.UnderWay[i]
		if u.Kind != models.TaskMix || u.Lot == nil || *u.Lot != c.Code || u.L == nil || u.G == nil || u.Start.Before(start) {
			continue
		}
		m, g := c.Mix(*u.L*1000), 0.0
		for _, a := range m.Salts {
			g += a.G
		}
		if math.Abs(g-*u.G) <= 0.1*float64(len(m.Salts))+1e-9 {
			start, ml = u.Start, *u.L*1000
		}
	}
	if start.IsZero() {
		return start, 0
	}
	for i := range st.req.UnderWay {
		if u := &st.req.UnderWay[i]; u.Kind == models.TaskWaterDraw && u.L != nil && !u.Start.Before(start) {
			ml -= c.ML(*u.L)
		}
	}
	return start.Add(mixKeepsH * time.Hour), max(0, ml)
}

// expectedDrinks returns the drinks expected in each slot.
func (bp *brewPlan) expectedDrinks() []float64 {
	out := make([]float64, bp.h.n)
	for i := range bp.needs.rows {
		row := &bp.needs.rows[i]
		for k, s := range row.share {
			out[row.slot+k] += s * row.rng.Mean()
		}
	}
	return out
}

// peopleRoom returns, by slot, how long tasks may begin from its start, min.
func (st *setting) peopleRoom() []float64 {
	out := make([]float64, st.h.n)
	for t := range out {
		at := st.h.at(t)
		for _, p := range st.h.begin {
			if p.Contains(at) {
				out[t] = p.To.Sub(at).Minutes()
			}
		}
	}
	return out
}

// calmTime returns the quietest time at which somebody is there to mix n bottles before a fill, the latest of equals. Where a plan begins
// too late for that it is the fill's own time: a bottle of last week may still be there, and people see at the tap that it is not.
func (st *setting) calmTime(busy, room []float64, before time.Time, n int) time.Time {
	best, least := -1, math.Inf(1)
	takes := models.Minutes(mixMin * float64(n))
	for t := range busy {
		at := st.h.at(t)
		if at.Add(takes).After(before) {
			break
		}
		x := 0.0
		for k := t; k < len(busy) && st.h.at(k).Before(at.Add(takes)); k++ {
			x += busy[k]
		}
		if room[t] >= takes.Minutes() && x <= least+1e-9 {
			best, least = t, x
		}
	}
	if best < 0 {
		return before
	}
	return st.h.at(best)
}
