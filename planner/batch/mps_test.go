package batch

import (
	"fmt"
	"math"
	"strings"
)

// mip is the mixed-integer program of an instance, for external solvers.
type mip struct {
	cost, upper []float64
	whole       []bool
	rows        []mipRow
	fixed       float64
}

type mipRow struct {
	kind byte // L or E
	rhs  float64
	coef map[int]float64
}

func (m *mip) add(cost, upper float64, whole bool) int {
	m.cost, m.upper, m.whole = append(m.cost, cost), append(m.upper, upper), append(m.whole, whole)
	return len(m.cost) - 1
}

func (m *mip) row(kind byte, rhs float64, coef map[int]float64) {
	if len(coef) > 0 {
		m.rows = append(m.rows, mipRow{kind, rhs, coef})
	}
}

// mipLot is a lot with its grams as a column, or as the constant g if that is -1.
type mipLot struct {
	bev, ready, expires int
	early               int
	grams               int
	g                   float64
	serve               map[int]int
}

// mipOf formulates the instance with columns for every possible start, its grams, and the amount each lot serves in each slot.
func mipOf(in *Instance) *mip {
	p := compile(in)
	m := &mip{}
	people, stirred := make([]map[int]float64, p.slots), make([]map[int]float64, p.slots)
	for t := range people {
		people[t], stirred[t] = map[int]float64{}, map[int]float64{}
	}
	busy := map[[2]int]map[int]float64{}
	var lots []mipLot
	for k := range p.opts {
		o := &p.opts[k]
		for t, may := range o.canStart {
			if !may {
				continue
			}
			x := m.add(o.fixed, 1, true)
			q := m.add(p.bevs[o.bev].unit, o.max, false)
			m.row('L', 0, map[int]float64{q: 1, x: -o.max})
			m.row('L', 0, map[int]float64{q: -1, x: o.min})
			people[t][x] = 1
			for s := t; s < t+o.busy; s++ {
				key := [2]int{o.brewer, s}
				if busy[key] == nil {
					busy[key] = map[int]float64{}
				}
				busy[key][x] = 1
			}
			if s := t + o.iceSlots; s < p.slots {
				stirred[s][q] = o.icePerG
			}
			r := t + o.ready
			lots = append(lots, mipLot{bev: o.bev, ready: r, expires: r + p.bevs[o.bev].hold, early: o.early, grams: q})
		}
	}
	for b := 0; b < p.brewer; b++ {
		for t := 0; t < p.slots; t++ {
			m.row('L', 1, busy[[2]int{b, t}])
		}
	}
	for t, coef := range people {
		m.row('L', float64(p.people[t]), coef)
	}
	for i := range p.bevs {
		for _, l := range p.bevs[i].opening {
			lots = append(lots, mipLot{bev: i, ready: l.ready, expires: l.expires, early: l.early, grams: -1, g: l.g})
		}
	}
	m.serving(p, lots)
	m.bin(p, stirred)
	return m
}

func (m *mip) serving(p *problem, lots []mipLot) {
	demand := make([][]map[int]float64, len(p.bevs))
	for i := range demand {
		for range p.slots {
			demand[i] = append(demand[i], map[int]float64{})
		}
	}
	store, rhs := make([]map[int]float64, p.slots), make([]float64, p.slots)
	for t := range store {
		store[t], rhs[t] = map[int]float64{}, p.store[t]
	}
	for n := range lots {
		l := &lots[n]
		b := &p.bevs[l.bev]
		left := b.leftCost(&lot{ready: l.ready, expires: l.expires})
		serves := map[int]float64{}
		if l.grams >= 0 {
			m.cost[l.grams] += left
			serves[l.grams] = -1
		} else {
			m.fixed += left * l.g
		}
		l.serve = map[int]int{}
		for t := l.ready - l.early; t < min(l.expires, p.slots); t++ {
			if t >= l.ready && b.demand[t] > 0 {
				l.serve[t] = m.add(b.aging*float64(t-l.ready)-left, b.demand[t], false)
				serves[l.serve[t]] = 1
				demand[l.bev][t][l.serve[t]] = 1
			}
			if l.grams >= 0 {
				store[t][l.grams] = 1
			} else {
				rhs[t] -= l.g
			}
			for s, y := range l.serve {
				if s <= t {
					store[t][y] = -1
				}
			}
		}
		m.row('L', l.g, serves)
	}
	for i := range p.bevs {
		for t, d := range p.bevs[i].demand {
			if d > 0 {
				demand[i][t][m.add(p.bevs[i].short, d, false)] = 1
				m.row('E', d, demand[i][t])
			}
		}
	}
	for t := range store {
		m.row('L', rhs[t], store[t])
	}
}

func (m *mip) bin(p *problem, stirred []map[int]float64) {
	b := p.ice
	if b == nil {
		return
	}
	before := -1
	for t := range stirred {
		coef, rhs := stirred[t], -b.serve[t]
		level := m.add(0, b.capacity, false)
		coef[level] = 1
		coef[m.add(0, b.make[t], false)] = -1
		coef[m.add(b.short, b.serve[t], false)] = -1
		if before >= 0 {
			coef[before] = -b.keep
		} else {
			rhs += b.keep * b.opening
		}
		m.row('E', rhs, coef)
		before = level
	}
}

// mps writes the program in free MPS.
func (m *mip) mps() string {
	var w strings.Builder
	w.WriteString("NAME batches\nROWS\n N cost\n")
	columns := make([][]string, len(m.cost))
	for r, row := range m.rows {
		fmt.Fprintf(&w, " %c r%d\n", row.kind, r)
		for j, a := range row.coef {
			columns[j] = append(columns[j], fmt.Sprintf(" c%d r%d %.12g\n", j, r, a))
		}
	}
	w.WriteString("COLUMNS\n one cost ")
	fmt.Fprintf(&w, "%.12g\n", m.fixed)
	marker := 0
	for j := range m.cost {
		if m.whole[j] {
			fmt.Fprintf(&w, " M%d 'MARKER' 'INTORG'\n", marker)
		}
		fmt.Fprintf(&w, " c%d cost %.12g\n", j, m.cost[j])
		for _, s := range columns[j] {
			w.WriteString(s)
		}
		if m.whole[j] {
			fmt.Fprintf(&w, " M%d 'MARKER' 'INTEND'\n", marker)
			marker++
		}
	}
	w.WriteString("RHS\n")
	for r, row := range m.rows {
		fmt.Fprintf(&w, " rhs r%d %.12g\n", r, row.rhs)
	}
	w.WriteString("BOUNDS\n FX bnd one 1\n")
	for j, u := range m.upper {
		if !math.IsInf(u, 1) {
			fmt.Fprintf(&w, " UP bnd c%d %.12g\n", j, u)
		}
	}
	w.WriteString("ENDATA\n")
	return w.String()
}
