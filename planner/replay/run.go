package replay

import (
	"context"
	"iter"
	"math"
	"time"

	"hotday/models"
	"hotday/planner/demand/forecast"
	"hotday/planner/ice"
)

// Method is one way to say how much to prepare.
type Method int

// The methods, in the order of every list of this package.
const (
	Plan      Method = iota // the evening's plan, followed all day
	Replanned               // the same, planned anew through the day from what has sold
	Par
	Foresight
	methods
)

var methodNames = [methods]string{"plan", "plan, replanned", "par sheet", "perfect foresight"}

func (m Method) String() string { return methodNames[m] }

// Options bound a replay. The zero value replays the whole season after its first five weeks.
type Options struct {
	From      models.Date // first day; "": the season's own, else after five weeks
	Days      int         // most days; 0: to the end
	Budget    int         // work units of each batch search; 0: searchBudget
	Ahead     int         // days that each sheet looks at, itself included; 0: 2
	Simulated int         // simulated days of each plan; 0: fewSimulated
	Replan    bool        // relive Replanned, too
	// IcePerKg above 0, minor units: the kitchen that plans anew heeds what cannot wait. Where a plan says that drink ice runs short
	// within three hours it fetches the amount, as far as the bin has room. It takes a few hundred Simulated days to know.
	IcePerKg float64
	Progress func(done, of int, date models.Date)
}

// What a replay spends on each plan where nobody says otherwise: a day's batches are found with far less than a weekend's.
const (
	searchBudget = 200_000
	fewSimulated = 1
	lookAhead    = 2
	replanEvery  = 2 * time.Hour // from opening on
)

func (o *Options) simulated() int {
	if o.Simulated > 0 {
		return o.Simulated
	}
	return fewSimulated
}

func (o *Options) methods() []Method {
	if o.Replan {
		return []Method{Plan, Replanned, Par, Foresight}
	}
	return []Method{Plan, Par, Foresight}
}

// DayResult is one day under every method.
type DayResult struct {
	Date    models.Date
	Open    bool
	TempC   float64 // warmest of the day; NaN where it is not known
	Figures [methods]Figures
	// Of the plan's ranges: rows, and those inside 10–90 %, values on the edge counted half; the same on what was asked for of all
	// drinks together.
	Rows, Inside float64
	Ranges       []RowRange // of the plan, by row
}

// Result is a season relived.
type Result struct {
	Title    string
	Site     string
	Currency string
	From, To models.Date
	Methods  []Method // that were relived
	Days     []DayResult
}

// Run relives the season, which was validated. The same season and options give the same result. When ctx ends first its error
// is returned with the days that are done.
func Run(ctx context.Context, s *Season, o Options) (Result, error) {
	if o.Budget <= 0 {
		o.Budget = searchBudget
	}
	if o.Ahead <= 0 {
		o.Ahead = lookAhead
	}
	first, last, err := s.span(&o)
	if err != nil {
		return Result{}, err
	}
	r := &replaying{s: s, o: &o, prices: newPrices(&s.Setup), rows: s.rows(), freeze: freezing(&s.Ice)}
	r.known = known{s: s, rows: r.rows}
	for i := range first {
		r.known.see(&s.Days[i])
	}
	for m := range r.kitchens {
		r.kitchens[m].ice = min(s.Ice.OpeningG, s.Ice.BinG)
	}
	out := Result{Title: s.Title, Site: s.Site.Name, Currency: s.Site.Currency, From: s.Days[first].Date, To: s.Days[first].Date, Methods: o.methods()}
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

// span is the first and last day to replay, by index.
func (s *Season) span(o *Options) (first, last int, err error) {
	start := s.Days[0].Date
	n := len(s.Days)
	first = min(warmUp, n-1)
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

// replaying is a replay under way.
type replaying struct {
	s        *Season
	o        *Options
	prices   *prices
	rows     []row
	known    known
	kitchens [methods]kitchen
	freeze   []time.Duration
}

// day plans and lives day i under every method.
func (r *replaying) day(ctx context.Context, i int) (DayResult, error) {
	s := r.s
	d := &s.Days[i]
	out := DayResult{Date: d.Date, Open: s.open(d), TempC: math.NaN()}
	if c, ok := d.Weather.warmest(d.Date, s.Site.Location()); ok {
		out.TempC = c
	}
	now, next := s.evening(i), s.evening(i+1)
	asked := s.demandOf(d, r.rows)
	days := s.Days[i:min(i+r.o.Ahead, len(s.Days))]
	var cast [][]forecast.Day
	if out.Open {
		var err error
		if cast, err = r.known.forecast(ctx, days); err != nil {
			return out, err
		}
		for k, row := range r.rows {
			x, q := asked[k], cast[0][k].Quantiles
			if s.serves(d, row.part) {
				out.Ranges = append(out.Ranges, RowRange{DayPart: s.Site.DayParts[row.part].Code, Drink: s.Drinks[row.drink].Name, P10: q[at10], P50: q[at50], P90: q[at90], Asked: x})
			}
			if !math.IsNaN(x) {
				out.Rows++
				out.Inside += inside(x, q[at10], q[at90])
			}
		}
	}
	for _, m := range r.o.methods() {
		l := r.living(i, m, asked, now, next)
		if err := r.live(ctx, l, i, m, days, cast); err != nil {
			return out, err
		}
		out.Figures[m] = l.out
	}
	r.known.see(d)
	return out, ctx.Err()
}

// live lets a method's kitchen live day i from its sheet to the next one.
func (r *replaying) live(ctx context.Context, l *living, i int, m Method, days []Day, cast [][]forecast.Day) error {
	if !r.s.open(&days[0]) {
		l.follow(&sheet{})
		l.until(l.n)
		return nil
	}
	for at := range r.planAt(l, m, &days[0]) {
		l.until(at)
		sh, err := r.sheet(ctx, l, i, m, days, cast)
		if err != nil {
			return err
		}
		l.follow(&sh)
		if m == Replanned && r.o.IcePerKg > 0 {
			l.fetch(sh.iceSoonG, r.o.IcePerKg)
		}
	}
	l.until(l.n)
	return nil
}

// planAt are the slots before which a method makes a sheet: in the evening, and every few hours from opening on where it plans anew.
func (r *replaying) planAt(l *living, m Method, d *Day) iter.Seq[int] {
	return func(yield func(int) bool) {
		if !yield(0) || m != Replanned {
			return
		}
		for _, o := range r.s.Site.OpenSpans(d.Date) {
			for at := o.From.Add(replanEvery); at.Before(o.To); at = at.Add(replanEvery) {
				if t := int((at.Sub(l.from) + l.slot - 1) / l.slot); t > 0 && t < l.n && !yield(t) {
					return
				}
			}
		}
	}
}

// sheet is what a method tells the kitchen to make from the coming slot on.
func (r *replaying) sheet(ctx context.Context, l *living, i int, m Method, days []Day, cast [][]forecast.Day) (sheet, error) {
	s := r.s
	now := l.from.Add(time.Duration(l.now) * l.slot)
	req := s.request(l.begun(now), now, s.before(i), days)
	switch m {
	case Plan, Replanned:
		s.tellForecast(&req, r.rows, days, cast)
		if l.now > 0 {
			s.tellSold(&req, &days[0], l)
		}
	case Par:
		for k := range days {
			s.tellExactly(&req, r.rows, &days[k], r.known.par(&days[k], outlook(days, k, s.Site.Location())))
		}
	case Foresight:
		for k := range days {
			s.tellExactly(&req, r.rows, &days[k], s.demandOf(&days[k], r.rows))
		}
	}
	sh, err := s.plan(ctx, &req, l.from.Add(time.Duration(l.n)*l.slot), r.o)
	if m == Par {
		sh.forms, sh.allForms = nil, true
	}
	return sh, err
}

// before is the day before day i; before the first one it had the same weather.
func (s *Season) before(i int) *Day {
	if i > 0 {
		return &s.Days[i-1]
	}
	d := s.Days[0]
	d.Date = d.Date.AddDays(-1)
	if d.Weather.TempC == nil {
		if c, ok := d.Weather.warmest(s.Days[0].Date, s.Site.Location()); ok {
			d.Weather.TempC = &c
		}
	}
	return &d
}

// inside is 1 for a value between the edges, ½ on one of them.
func inside(x, lo, hi float64) float64 {
	switch {
	case x > lo && x < hi:
		return 1
	case x == lo || x == hi:
		return 0.5
	}
	return 0
}

// evening is when the sheet of day i is made: when the shop closes on the day before, or would have by its latest opening hours.
func (s *Season) evening(i int) time.Time {
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

// living puts a method's kitchen at the evening before day i.
func (r *replaying) living(i int, m Method, asked []float64, from, to time.Time) *living {
	s := r.s
	slot := time.Duration(s.Site.SlotMin) * time.Minute
	l := &living{s: s, prices: r.prices, k: &r.kitchens[m], from: from, slot: slot, n: max(0, int(to.Sub(from)/slot)), freeze: r.freeze}
	l.keep = math.Pow(1-s.Ice.BinLossPctPH/100, slot.Hours())
	l.people = s.people(s.Days[max(0, i-1):min(i+2, len(s.Days))], from, to)
	l.asked = s.slots(&s.Days[i], r.rows, asked, from, slot, l.n)
	l.missed = s.slots(&s.Days[i], nil, nil, from, slot, l.n)
	l.made = s.makers(s.Days[max(0, i-1):i+1], from, slot, l.n)
	if s.open(&s.Days[i]) {
		l.out.OpenDays = 1
	}
	return l
}

// slots spreads a day's servings evenly over the open time of their parts: by drink and slot.
func (s *Season) slots(d *Day, rows []row, asked []float64, from time.Time, slot time.Duration, n int) [][]float64 {
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
		span := s.Site.PartSpan(d.Date, s.Site.DayParts[p])
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
		if x := asked[k]; x > 0 {
			for t, f := range share[r.part] {
				out[r.drink][t] += x * f
			}
		}
	}
	return out
}

// makers is what the makers of drink ice can give in each slot in the air that came.
func (s *Season) makers(days []Day, from time.Time, slot time.Duration, n int) []float64 {
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
				c = unknownC
			}
			if c != lastC {
				lastC, perDay = c, machine.KgPerDay(c, s.Ice.InletWaterC)
			}
			out[t] += perDay * 1000 / 24 * slot.Hours()
		}
	}
	return out
}
