package risk

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strconv"

	"hotday/planner/demand"
)

// defaultRuns is the number of Monte Carlo runs if none is requested.
const defaultRuns = 1000

// tolerance is the largest missing share of a serving that does not count as a shortage, as real servings are whole.
const tolerance = 0.5

// Simulate runs the plan n times over the whole horizon (n < 1: 1000). Equal input, seed and n give the same result on any
// number of cores. The only error is the context's.
func Simulate(ctx context.Context, in Input, seed int64, n int) (Result, error) {
	if n < 1 {
		n = defaultRuns
	}
	s := newSimulation(in, seed, n, nil)
	if err := s.run(ctx, 0, in.Slots); err != nil {
		return Result{}, err
	}
	s.finish()
	return s.result, nil
}

// run simulates slots from … to−1.
func (s *simulation) run(ctx context.Context, from, to int) error {
	for t := from; t < to; t++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		s.begin(t)
		s.expire(t)
		s.replenish(t)
		s.look(t)
		s.takePlanned(t)
		s.serve(t)
		if s.days == nil {
			s.recordLevels(t)
		}
	}
	return nil
}

// simulation is the state of all n runs, advanced slot by slot. Everything that varies is an array over the runs.
type simulation struct {
	in        Input
	n         int
	seed      int64
	scores    *demand.Scores
	days      *Days // with random numbers drawn before; nil: drawn here
	day       int
	level     [][]float64 // normal score of the demand level, by day
	tempError [][]float64 // temperature above the forecast, °C, by day

	rows      []Row // in order of their first slot
	next      int   // first row that has not started
	active    []int // rows with demand in the slot, by drink
	customers []*customers
	spare     []*customers // of finished rows, for reuse
	demand    slotDemand   // of the slot; drawn days keep their own
	selling   []slotRow    // scratch
	own       []float64

	lots   []lot
	lotsOf [][]int // lots of each stock, in order of expiry
	left   [][]float64
	size   [][]float64   // share of a lot's planned size, by run; nil but for lots that a choice has decided
	flow   [][]float64   // level of each flow
	output [][][]float64 // the day's output factor, by flow and make

	stocks, flows []ledger
	missed, asked [][]float64 // by day and drink
	noIce         [][]float64 // of missed: ice was out
	aging         []float64   // by stock
	waste         []float64
	scratch       []float64
	slot          slotServing
	result        Result
}

type lot struct {
	Lot
	stock, at int // indices in the input
}

func newSimulation(in Input, seed int64, n int, drawn *Days) *simulation {
	s := &simulation{
		in: in, n: n, seed: seed, days: drawn, day: -1,
		own: make([]float64, n), scratch: make([]float64, n),
		waste: make([]float64, len(in.Stocks)), aging: make([]float64, len(in.Stocks)),
	}
	if len(s.in.Days) == 0 {
		s.in.Days = []Day{{Until: in.Slots}}
	}
	if drawn == nil {
		s.scores = demand.NewScores(seed, n)
	} else {
		s.scores = drawn.scores
	}
	days := len(s.in.Days)
	for range days {
		s.missed, s.noIce = append(s.missed, make([]float64, len(in.Drinks))), append(s.noIce, make([]float64, len(in.Drinks)))
		s.asked = append(s.asked, make([]float64, len(in.Drinks)))
	}
	if drawn != nil {
		if drawn.asked == nil {
			drawn.asked = s.asked
		}
		s.asked = drawn.asked
	}
	s.drawWeather(days)
	for _, r := range in.Rows {
		if r.Drink >= 0 && r.Drink < len(in.Drinks) && r.Day >= 0 && r.Day < days && r.Range.Mean() > 0 && r.Slot >= 0 {
			s.rows = append(s.rows, r)
		}
	}
	slices.SortStableFunc(s.rows, func(a, b Row) int { return cmp.Or(cmp.Compare(a.Slot, b.Slot), cmp.Compare(a.Key, b.Key)) })
	s.customers = make([]*customers, len(s.rows))
	s.stock()
	s.openFlows()
	s.result = Result{Stocks: make([]Outlook, len(in.Stocks)), Flows: make([]Outlook, len(in.Flows))}
	for _, st := range in.Stocks {
		s.result.LotLeft = append(s.result.LotLeft, make([]float64, len(st.Lots)))
	}
	s.openChoices()
	if drawn == nil {
		for range in.Flows {
			s.result.Levels = append(s.result.Levels, make([]Band, in.Slots))
		}
	}
	s.stocks, s.flows = make([]ledger, len(in.Stocks)), make([]ledger, len(in.Flows))
	for i := range s.stocks {
		s.stocks[i] = newLedger(n, s.smallestServing(func(d Drink) []Take { return d.Stocks }, i))
	}
	for i := range s.flows {
		s.flows[i] = newLedger(n, s.smallestServing(func(d Drink) []Take { return d.Flows }, i))
	}
	return s
}

// drawWeather draws the days' demand levels and temperature errors. Part of a level is due to the temperature error, which also
// affects the ice machines.
func (s *simulation) drawWeather(days int) {
	if s.days != nil && s.days.level != nil {
		s.level, s.tempError = s.days.level, s.days.tempError
		return
	}
	a := s.in.Assume
	next := a.Correlation.Next
	s.level = s.scores.DrawDays("day", days, next)
	s.tempError = s.scores.DrawDays("temperature", days, next)
	share := min(1, max(0, a.WeatherShare))
	w, rest := math.Sqrt(share), math.Sqrt(1-share)
	for d := range days {
		sd := a.TempSDAt(s.in.Days[d].AheadDays)
		for i, z := range s.tempError[d] {
			s.level[d][i] = w*z + rest*s.level[d][i]
			s.tempError[d][i] = sd * z
		}
	}
	if s.days != nil {
		s.days.level, s.days.tempError = s.level, s.tempError
	}
}

// smallestServing returns the smallest amount of the stock or flow at index in any serving.
func (s *simulation) smallestServing(takes func(Drink) []Take, index int) float64 {
	least := math.Inf(1)
	for _, d := range s.in.Drinks {
		for _, t := range takes(d) {
			if t.Index == index && t.G > 0 {
				least = min(least, t.G)
			}
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}

func (s *simulation) stock() {
	s.lotsOf = make([][]int, len(s.in.Stocks))
	for k, st := range s.in.Stocks {
		for at, l := range st.Lots {
			if !(l.G > 0) || l.Until <= l.From {
				continue
			}
			i := len(s.lots)
			s.lots = append(s.lots, lot{l, k, at})
			left := make([]float64, s.n)
			if l.SD > 0 {
				s.draw("lot|"+l.Key, s.own)
			}
			for r := range left {
				left[r] = l.G
				if l.SD > 0 {
					left[r] *= logNormal(l.SD, s.own[r])
				}
			}
			s.left = append(s.left, left)
			place := len(s.lotsOf[k])
			for place > 0 && s.before(l, s.lots[s.lotsOf[k][place-1]].Lot) {
				place--
			}
			s.lotsOf[k] = slices.Insert(s.lotsOf[k], place, i)
		}
	}
}

func (s *simulation) before(a, b Lot) bool {
	if a.Until != b.Until {
		return a.Until < b.Until
	}
	return a.From < b.From
}

func (s *simulation) openFlows() {
	s.flow, s.output = make([][]float64, len(s.in.Flows)), make([][][]float64, len(s.in.Flows))
	for f, fl := range s.in.Flows {
		s.flow[f] = make([]float64, s.n)
		sd := 0.0
		if !fl.Exact && fl.Opening > 0 {
			if sd = s.in.Assume.CountSDAt(fl.CountAgeH); sd > 0 {
				s.draw("count|"+fl.Key, s.own)
			}
		}
		for r := range s.flow[f] {
			g := fl.Opening
			if sd > 0 {
				g *= logNormal(sd, s.own[r])
			}
			s.flow[f][r] = max(0, min(fl.Capacity, g))
		}
		s.output[f] = make([][]float64, len(fl.Makers))
	}
}

// begin starts the slot: its service day, if that is new, and its rows.
func (s *simulation) begin(t int) {
	d := max(s.day, 0)
	for d < len(s.in.Days)-1 && t >= s.in.Days[d].Until {
		d++
	}
	if d != s.day {
		for k := max(s.day, 0); k < d; k++ {
			s.closeDay()
		}
		s.day = d
		s.drawOutput()
	}
	s.beginRows(t)
}

// beginRows updates the active rows of a slot whose demand is not laid out yet and draws the demand of new ones.
func (s *simulation) beginRows(t int) {
	if s.days != nil && t < len(s.days.laid) {
		return
	}
	s.active = slices.DeleteFunc(s.active, func(i int) bool {
		over := t >= s.rows[i].Slot+len(s.rows[i].Share)
		if over {
			if s.days == nil {
				s.spare = append(s.spare, s.customers[i])
			}
			s.customers[i] = nil
		}
		return over
	})
	first := s.next
	for ; s.next < len(s.rows) && s.rows[s.next].Slot <= t; s.next++ {
		if t >= s.rows[s.next].Slot+len(s.rows[s.next].Share) {
			continue
		}
		s.customers[s.next] = s.arrive(&s.rows[s.next])
		s.active = append(s.active, s.next)
	}
	if s.next > first {
		slices.SortFunc(s.active, func(a, b int) int { return cmp.Or(cmp.Compare(s.rows[a].Drink, s.rows[b].Drink), cmp.Compare(a, b)) })
	}
}

func (s *simulation) drawOutput() {
	for f, fl := range s.in.Flows {
		for m, mk := range fl.Makers {
			if mk.Exact {
				continue
			}
			sd := mk.SD
			if sd < 0 {
				sd = s.in.Assume.OutputSD
			}
			if s.output[f][m] == nil {
				s.output[f][m] = make([]float64, s.n)
			}
			s.draw("make|"+fl.Key+"|"+mk.Key+"|"+strconv.Itoa(s.day), s.own)
			for r := range s.output[f][m] {
				s.output[f][m][r] = logNormal(sd, s.own[r]) * max(0, 1+mk.PerC*s.tempError[s.day][r])
			}
		}
	}
}

// expire discards the remainder of lots that expire in slot t.
func (s *simulation) expire(t int) {
	for i, l := range s.lots {
		if l.Until == t {
			s.discard(i)
		}
	}
}

func (s *simulation) discard(i int) {
	s.charge(i)
	s.waste[s.lots[i].stock] += s.recordLeft(i) * float64(s.n)
	clear(s.left[i])
}

// recordLeft records and returns the mean remainder of a lot.
func (s *simulation) recordLeft(i int) float64 {
	g := 0.0
	for _, x := range s.left[i] {
		g += x
	}
	g /= float64(s.n)
	s.result.LotLeft[s.lots[i].stock][s.lots[i].at] = g
	return g
}

// replenish applies loss and production, up to the capacity.
func (s *simulation) replenish(t int) {
	for f, fl := range s.in.Flows {
		keep := 1 - min(1, max(0, fl.LossPerSlot))
		level := s.flow[f]
		for r := range level {
			level[r] *= keep
		}
		for m, mk := range fl.Makers {
			if t >= len(mk.G) || !(mk.G[t] > 0) {
				continue
			}
			for r := range level {
				g := mk.G[t]
				if out := s.output[f][m]; out != nil {
					g *= out[r]
				}
				level[r] += g
			}
		}
		for r := range level {
			level[r] = min(level[r], fl.Capacity)
		}
	}
}

// takePlanned applies planned withdrawals and the ice of batches, which shrink if there is not enough.
func (s *simulation) takePlanned(t int) {
	for f, fl := range s.in.Flows {
		if t < len(fl.Taken) && fl.Taken[t] > 0 {
			for r := range s.n {
				s.withdraw(f, r, t, fl.Taken[t])
			}
		}
	}
	for i, l := range s.lots {
		if !(l.IceG > 0) || l.IceSlot != t || l.IceFlow < 0 || l.IceFlow >= len(s.flow) {
			continue
		}
		for r := range s.n {
			if want := l.IceG * s.sizeOf(i, r); want > 0 {
				s.left[i][r] *= s.withdraw(l.IceFlow, r, t, want) / want
			}
		}
	}
}

// withdraw takes up to g of a flow in a run, records the shortage, and returns the amount taken.
func (s *simulation) withdraw(f, r, t int, g float64) float64 {
	got := min(g, s.flow[f][r])
	s.flow[f][r] -= got
	if lack := g - got; lack > 1e-6*g {
		s.flows[f].record(r, t, lack)
	}
	return got
}

func (s *simulation) recordLevels(t int) {
	for f := range s.flow {
		copy(s.scratch, s.flow[f])
		b := &s.result.Levels[f][t]
		b.P10, b.P50, b.P90 = demand.Deciles(s.scratch)
	}
}

func (s *simulation) closeDay() {
	for i := range s.stocks {
		s.result.Stocks[i].Days = append(s.result.Stocks[i].Days, s.stocks[i].close(s.scratch))
	}
	for i := range s.flows {
		s.result.Flows[i].Days = append(s.result.Flows[i].Days, s.flows[i].close(s.scratch))
	}
}

// finish closes the remaining days. A lot that expires at the end of the horizon is discarded, later ones are carried over.
func (s *simulation) finish() {
	for len(s.in.Days) > max(s.day, 0) {
		s.closeDay()
		s.day = max(s.day, 0) + 1
	}
	for i, l := range s.lots {
		if l.Until == s.in.Slots {
			s.discard(i)
		} else if l.Until > s.in.Slots {
			s.charge(i)
			s.recordLeft(i)
		}
	}
	n := float64(s.n)
	res := &s.result
	for i := range s.stocks {
		res.Stocks[i].All = summarise(s.stocks[i].all, s.stocks[i].firstAll, s.scratch)
	}
	for i := range s.flows {
		res.Flows[i].All = summarise(s.flows[i].all, s.flows[i].firstAll, s.scratch)
	}
	res.Missed, res.Served = make([]float64, len(s.in.Drinks)), make([]float64, len(s.in.Drinks))
	for d := range s.asked {
		sales := make([]Sales, len(s.in.Drinks))
		for j := range sales {
			sales[j] = Sales{Sold: (s.asked[d][j] - s.missed[d][j]) / n, Missed: s.missed[d][j] / n, NoIce: s.noIce[d][j] / n}
			res.Served[j] += sales[j].Sold
			res.Missed[j] += sales[j].Missed
		}
		res.Sales = append(res.Sales, sales)
	}
	res.AgingG = s.aging
	for k := range s.aging {
		s.aging[k] /= n
	}
	res.WasteG = make([]float64, len(s.in.Stocks))
	for k := range s.in.Stocks {
		res.WasteG[k] = s.waste[k] / n
	}
}
