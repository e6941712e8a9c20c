package replay

import (
	"cmp"
	"context"
	"iter"
	"math"
	"time"

	"golang.org/x/sync/errgroup"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/cores"
	"hotday/planner/demand/forecast"
	"hotday/planner/ice"
)

// Options configure a replay. The zero value replays the whole season after its first five weeks.
type Options struct {
	From      models.Date // first day; "": the season's own, else after five weeks
	Days      int         // maximum number of days; 0: to the end
	Budget    int         // work units of each batch search; 0: defaultBudget
	Ahead     int         // days that each sheet plans, itself included; 0: 2
	Parallel  int         // goroutines at once; 0: as many as there are cores
	Simulated int         // Monte Carlo days of each plan; 0: defaultSimulated
	Replan    bool        // also replay Replanned
	NoChoices bool        // also replay NoChoices
	// Cushions of the par sheet, ServiceLevels of the plan, %, and Changes of the shop that are replayed beside each method as it is.
	Cushions, ServiceLevels []float64
	Changes                 []Change
	// IcePerKg above 0, in minor units, lets Replanned buy ice: when a plan expects drink ice to run short within three hours, the
	// kitchen buys the missing amount, as far as the bin has room. Detecting that takes a few hundred Simulated days.
	IcePerKg float64
	Progress func(done, of int, date models.Date)
}

// Effort per plan by default: the batches of a day need far less search than those of a weekend.
const (
	defaultBudget    = 200_000
	defaultSimulated = 1
	defaultAhead     = 2
	replanEvery      = 2 * time.Hour // after opening
	briefShare       = 3             // such sheets get 1/3 of the budget
)

func (o *Options) simulated() int {
	if o.Simulated > 0 {
		return o.Simulated
	}
	return defaultSimulated
}

func (o *Options) methods() []Method {
	out := []Method{Plan}
	if o.NoChoices {
		out = append(out, NoChoices)
	}
	if o.Replan {
		out = append(out, Replanned)
	}
	return append(out, Par, Foresight)
}

// DayResult is the result of one day under every method.
type DayResult struct {
	Date    models.Date
	Open    bool
	TempC   float64          // maximum temperature of the day, NaN if unknown
	Figures [methods]Figures // of each method as it is
	Points  []Figures        // of the Result's Points
	// Rows counts the plan's ranges with known demand, Inside those whose 10–90 % range covered it, edges counted half.
	Rows, Inside float64
	Ranges       []RowRange // of the plan, by row
}

// Result is a replayed season.
type Result struct {
	Title    string
	Site     models.Site // the tables and charts are in its language and units
	From, To models.Date
	Methods  []Method // that were replayed as they are
	Points   []Policy // the other settings and changes replayed
	Days     []DayResult
}

// Run replays the season, which must be valid. It is deterministic. If ctx ends first it returns its error with the days done so
// far.
func Run(ctx context.Context, s *Season, o Options) (Result, error) {
	if o.Budget <= 0 {
		o.Budget = defaultBudget
	}
	if o.Ahead <= 0 {
		o.Ahead = defaultAhead
	}
	first, last, err := s.span(&o)
	if err != nil {
		return Result{}, err
	}
	r := &replayer{s: s, o: &o, rows: s.rows()}
	r.history = history{s: s, rows: r.rows}
	for i := range first {
		r.history.add(&s.Days[i])
	}
	for _, p := range o.policies() {
		k, err := r.newRun(p)
		if err != nil {
			return Result{}, err
		}
		r.runs = append(r.runs, k)
	}
	out := Result{Title: s.Title, Site: s.Site, From: s.Days[first].Date, To: s.Days[first].Date, Methods: o.methods()}
	for _, k := range r.runs[len(out.Methods):] {
		out.Points = append(out.Points, k.policy)
	}
	for i := first; i <= last; i++ {
		day, err := r.day(ctx, i)
		if err != nil {
			return out, err
		}
		out.Days, out.To = append(out.Days, day), day.Date
		if o.Progress != nil {
			o.Progress(i-first+1, last-first+1, day.Date)
		}
	}
	return out, nil
}

// span returns the indexes of the first and last day to replay.
func (s *Season) span(o *Options) (first, last int, err error) {
	start := s.Days[0].Date
	n := len(s.Days)
	first = min(warmUpDays, n-1)
	switch {
	case o.From != "":
		first = start.DaysUntil(o.From)
		if first < 0 || first >= n {
			return 0, 0, models.Invalid("/from", "a day from "+string(start)+" to "+string(s.Days[n-1].Date), "%s is none of the season", o.From)
		}
	case s.From != "":
		first = start.DaysUntil(s.From)
	}
	last = n - 1
	if o.Days < 0 {
		return 0, 0, models.Invalid("/days", "1 or more", "%d days cannot be replayed", o.Days)
	}
	if o.Days > 0 {
		last = min(last, first+o.Days-1)
	}
	return first, last, nil
}

// replayer replays a season under all policies, which share its history.
type replayer struct {
	s       *Season
	o       *Options
	rows    []row
	history history
	runs    []*policyRun
}

// policyRun is the kitchen of one policy, in a shop that the policy may have changed.
type policyRun struct {
	*replayer
	policy  Policy
	s       *Season
	prices  *prices
	freeze  []time.Duration
	kitchen kitchen
}

// newRun opens the kitchen of a policy before the first day. A change that makes the shop invalid is an error.
func (r *replayer) newRun(p Policy) (*policyRun, error) {
	s := r.s
	if p.Change != nil {
		changed := *s
		changed.Setup = p.Change.Apply(s.Setup)
		if err := changed.Setup.Validate(); err != nil {
			return nil, err
		}
		s = &changed
	}
	return &policyRun{replayer: r, policy: p, s: s, prices: newPrices(&s.Setup), freeze: freezeTimes(&s.Ice),
		kitchen: kitchen{ice: min(s.Ice.OpeningG, s.Ice.BinG)}}, nil
}

// day simulates day i under every policy.
func (r *replayer) day(ctx context.Context, i int) (DayResult, error) {
	s := r.s
	d := &s.Days[i]
	out := DayResult{Date: d.Date, Open: s.open(d), TempC: math.NaN()}
	if c, ok := d.Weather.maxTemp(d.Date, s.Site.Location()); ok {
		out.TempC = c
	}
	now, next := s.planTime(i), s.planTime(i+1)
	demand := s.demandOf(d, r.rows)
	days := s.Days[i:min(i+r.o.Ahead, len(s.Days))]
	var forecasts [][]forecast.Day
	if out.Open {
		var err error
		if forecasts, err = r.history.forecast(ctx, days); err != nil {
			return out, err
		}
		for k, row := range r.rows {
			x, q := demand[k], forecasts[0][k].Quantiles
			if s.serves(d, row.part) {
				out.Ranges = append(out.Ranges, RowRange{DayPart: s.Site.DayParts[row.part].Code, Drink: s.Drinks[row.drink].Name, P10: q[at10], P50: q[at50], P90: q[at90], Demand: x})
			}
			if !math.IsNaN(x) {
				out.Rows++
				out.Inside += coverageOf(x, q[at10], q[at90])
			}
		}
	}
	e := evening{day: i, days: days, forecasts: forecasts}
	figures := make([]Figures, len(r.runs))
	work, ctx := errgroup.WithContext(ctx)
	work.SetLimit(cmp.Or(r.o.Parallel, cores.Machine()))
	for k, run := range r.runs {
		work.Go(func() error {
			sim := run.newSimulation(i, demand, now, next)
			err := run.simulateDay(ctx, sim, &e)
			figures[k] = sim.figures
			return err
		})
	}
	if err := work.Wait(); err != nil {
		return out, err
	}
	for k, m := range r.o.methods() {
		out.Figures[m] = figures[k]
	}
	out.Points = figures[len(r.o.methods()):]
	r.history.add(d)
	return out, nil
}

// simulateDay simulates a policy's kitchen on a day, from its sheet to the next one.
func (r *policyRun) simulateDay(ctx context.Context, sim *simulation, e *evening) error {
	if !r.s.open(&e.days[0]) {
		sim.follow(&sheet{})
		sim.runTo(sim.n)
		return nil
	}
	replans := ways[r.policy.Method].replans
	for at := range r.sheetSlots(sim, replans, &e.days[0]) {
		sim.runTo(at)
		sh, err := r.sheet(ctx, sim, e)
		if err != nil {
			return err
		}
		sim.follow(&sh)
		if replans && r.o.IcePerKg > 0 {
			sim.buyIce(sh.iceShortSoonG, r.o.IcePerKg)
		}
	}
	sim.runTo(sim.n)
	return nil
}

// sheetSlots are the slots before which a sheet is made: in the evening and, if it replans, every few hours after opening.
func (r *policyRun) sheetSlots(sim *simulation, replans bool, d *Day) iter.Seq[int] {
	return func(yield func(int) bool) {
		if !yield(0) || !replans {
			return
		}
		for _, o := range r.s.Site.OpenSpans(d.Date) {
			for at := o.From.Add(replanEvery); at.Before(o.To); at = at.Add(replanEvery) {
				if t := int((at.Sub(sim.from) + sim.slot - 1) / sim.slot); t > 0 && t < sim.n && !yield(t) {
					return
				}
			}
		}
	}
}

// sheet makes a policy's sheet from the next slot on.
func (r *policyRun) sheet(ctx context.Context, sim *simulation, e *evening) (sheet, error) {
	s, w := r.s, &ways[r.policy.Method]
	now := sim.from.Add(time.Duration(sim.now) * sim.slot)
	req := s.request(sim.started(now), now, s.dayBefore(e.day), e.days)
	w.demand(r.replayer, &req, e, r.policy)
	if sim.now > 0 {
		s.addSold(&req, &e.days[0], sim)
	}
	budget := r.o.Budget
	if w.brief {
		budget /= briefShare
	}
	sh, err := s.plan(ctx, &req, sim.from.Add(time.Duration(sim.n)*sim.slot), planner.Options{WithoutFixes: true, Budget: budget, Days: r.o.simulated(), NoChoices: !w.choices})
	if w.fillsMoulds {
		sh.moulds, sh.fillAllMoulds = nil, true
	}
	return sh, err
}

// dayBefore is the day before day i; before the first one the weather is assumed to be the same.
func (s *Season) dayBefore(i int) *Day {
	if i > 0 {
		return &s.Days[i-1]
	}
	d := s.Days[0]
	d.Date = d.Date.AddDays(-1)
	if d.Weather.TempC == nil {
		if c, ok := d.Weather.maxTemp(s.Days[0].Date, s.Site.Location()); ok {
			d.Weather.TempC = &c
		}
	}
	return &d
}

// coverageOf is 1 for a value strictly between lo and hi, ½ on an edge, else 0.
func coverageOf(y, lo, hi float64) float64 {
	switch {
	case y > lo && y < hi:
		return 1
	case y == lo || y == hi:
		return 0.5
	}
	return 0
}

// planTime is when the sheet of day i is made: at closing time of the day before, 18:00 if it was closed, rounded up to a slot.
func (s *Season) planTime(i int) time.Time {
	loc := s.Site.Location()
	var before models.Date
	if i == 0 {
		before = s.Days[0].Date.AddDays(-1)
	} else {
		before = s.Days[i-1].Date
	}
	at := before.At(18*60, loc)
	if spans := s.Site.OpenSpans(before); len(spans) > 0 && (i == 0 || !s.Days[i-1].Closed) {
		at = spans[len(spans)-1].To
	}
	slot := time.Duration(s.Site.SlotMin) * time.Minute
	midnight := models.DateOf(at, loc).At(0, loc)
	return midnight.Add((at.Sub(midnight) + slot - 1) / slot * slot).In(loc)
}

// newSimulation starts a policy's kitchen on the evening before day i.
func (r *policyRun) newSimulation(i int, demand []float64, from, to time.Time) *simulation {
	s := r.s
	slot := time.Duration(s.Site.SlotMin) * time.Minute
	sim := &simulation{s: s, prices: r.prices, k: &r.kitchen, from: from, slot: slot, n: max(0, int(to.Sub(from)/slot)), freeze: r.freeze}
	sim.iceRetention = math.Pow(1-s.Ice.BinLossPctPH/100, slot.Hours())
	sim.staffed = s.staffedSpans(s.Days[max(0, i-1):min(i+2, len(s.Days))], from, to)
	sim.demand = s.spreadDemand(&s.Days[i], r.rows, demand, from, slot, sim.n)
	sim.missed = s.spreadDemand(&s.Days[i], nil, nil, from, slot, sim.n)
	sim.iceOutput = s.iceOutput(s.Days[max(0, i-1):i+1], from, slot, sim.n)
	if s.open(&s.Days[i]) {
		sim.figures.OpenDays = 1
	}
	return sim
}

// spreadDemand spreads the servings of a day evenly over the open time of their day parts: by drink and slot.
func (s *Season) spreadDemand(d *Day, rows []row, demand []float64, from time.Time, slot time.Duration, n int) [][]float64 {
	out := make([][]float64, len(s.Drinks))
	for i := range out {
		out[i] = make([]float64, n)
	}
	if !s.open(d) {
		return out
	}
	open := s.Site.OpenSpans(d.Date)
	share := make([][]float64, len(s.Site.DayParts))
	for p := range share {
		span := s.Site.DayPartSpan(d.Date, s.Site.DayParts[p])
		share[p] = make([]float64, n)
		all := 0.0
		for _, o := range open {
			if x := o.Overlap(span); !x.Empty() {
				all += x.To.Sub(x.From).Minutes()
			}
		}
		for t := range share[p] {
			at := from.Add(time.Duration(t) * slot)
			cell := models.Span{From: at, To: at.Add(slot)}.Overlap(span)
			for _, o := range open {
				if x := o.Overlap(cell); !x.Empty() {
					share[p][t] += x.To.Sub(x.From).Minutes() / all
				}
			}
		}
	}
	for k, r := range rows {
		if x := demand[k]; x > 0 {
			for t, f := range share[r.part] {
				out[r.drink][t] += x * f
			}
		}
	}
	return out
}

// iceOutput is the capacity of the drink-ice machines in each slot at the actual air temperature, g.
func (s *Season) iceOutput(days []Day, from time.Time, slot time.Duration, n int) []float64 {
	loc := s.Site.Location()
	air := map[int64]float64{}
	for i := range days {
		for _, h := range days[i].Weather.hoursOf(days[i].Date, loc) {
			air[h.At.Unix()] = h.TempC
		}
	}
	out := make([]float64, n)
	for _, m := range s.Ice.Makers {
		if !m.Treated {
			continue
		}
		machine := ice.Maker{KgPerDayRated: m.KgPerDayRated, RatedAirC: m.RatedAirC, RatedWaterC: m.RatedWaterC}
		for _, p := range m.Curve {
			machine.Curve = append(machine.Curve, ice.Point(p))
		}
		lastC, perDay := math.NaN(), 0.0
		for t := range out {
			at := from.Add(time.Duration(t) * slot)
			c, ok := air[at.Truncate(time.Hour).Unix()]
			if !ok {
				c = unknownTempC
			}
			if c != lastC {
				lastC, perDay = c, machine.KgPerDay(c, s.Ice.InletWaterC)
			}
			out[t] += perDay * 1000 / 24 * slot.Hours()
		}
	}
	return out
}
