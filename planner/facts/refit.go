package facts

import (
	"bytes"
	"compress/flate"
	"context"
	"crypto/sha256"
	"encoding/gob"
	"encoding/json"
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/demand/forecast"
)

// learntDays is the length of the history that the forecast is fitted to. Its newest forecast.LateDays are read again each night,
// since counts arrive late and are corrected.
const learntDays = 730

// keptPast is the history that the forecast was fitted to, with a column for each series and day part. NaN means unknown.
type keptPast struct {
	Digest  [sha256.Size]byte // of the settings the days were read with: mappings, weekly hours, day parts
	First   models.Date
	Days    int
	series  []forecast.SeriesKey
	Part    []int // of each series
	Drink   []string
	Counts  [][]float64
	Shares  [][]float64       // of the usual selling time that they were counted in
	Weather [][airs][]float64 // by day part: temperature, rain, humidity
	Holiday []bool
	Names   []string   // of holidays
	Events  [][]string // by day part: of unknown effect
	Said    []uint64   // digest of the hours, events and spans off sale each day was read with
}

const airs = 3

// Refit updates the forecast with the days before the service day of now, starting from the last state, or fits it if there is
// none. It reads from one state of the store, which it holds no longer when it computes, and writes nothing.
func Refit(ctx context.Context, store models.Store, site string, now time.Time) (models.ForecastState, error) {
	g, err := readLearning(ctx, store, site, now, func(float64) {}, func(*learning) error { return nil })
	if err != nil {
		return models.ForecastState{}, err
	}
	out, err := g.learn()
	if err != nil {
		return out, fmt.Errorf("let the forecast of %s learn: %w", site, err)
	}
	return out, nil
}

// refitting prepares reading the history, and reads the last state.
func refitting(ctx context.Context, st models.Store, site string, now time.Time) (*gathering, models.ForecastState, error) {
	setup, _, err := st.Setup(ctx, site)
	if err != nil {
		return nil, models.ForecastState{}, err
	}
	r := models.PlanRequest{Setup: setup}
	today := setup.Site.ServiceDayOf(now)
	g := &gathering{ctx: ctx, st: st, q: GatherQuery{Site: site, From: today, Days: 1, Now: now}, r: &r, today: today}
	before, err := st.ForecastState(ctx, site)
	return g, before, err
}

func (g *learning) learn() (models.ForecastState, error) {
	before, past := &g.before, &g.past
	state := &forecast.State{}
	if before.Learnt != nil && state.UnmarshalBinary(before.Learnt) != nil {
		state = &forecast.State{} // of another version: learn from nothing
	}
	state, err := state.Update(g.ctx, past.rows())
	if err != nil {
		return models.ForecastState{}, err
	}
	out := models.ForecastState{MadeAt: g.q.Now, Through: past.First.AddDays(past.Days - 1)}
	if out.Learnt, err = state.MarshalBinary(); err != nil {
		return out, err
	}
	out.Past, err = packPast(g.past)
	return out, err
}

func packPast(p keptPast) ([]byte, error) {
	var b bytes.Buffer
	z, err := flate.NewWriter(&b, flate.BestSpeed)
	if err == nil {
		err = gob.NewEncoder(z).Encode(p)
	}
	if err == nil {
		err = z.Close()
	}
	return b.Bytes(), err
}

func unpackPast(b []byte) (p keptPast, ok bool) {
	if b == nil || gob.NewDecoder(flate.NewReader(bytes.NewReader(b))).Decode(&p) != nil {
		return keptPast{}, false
	}
	return p, true
}

// learntPast reads the history to fit to: all days on the first run and after a change of mappings or hours; otherwise only the
// newest, the others as read before.
func (g *gathering) learntPast(before models.ForecastState) (keptPast, error) {
	mappings, err := g.st.Mappings(g.ctx, g.q.Site)
	if err != nil {
		return keptPast{}, err
	}
	p := g.emptyPast(mappings)
	site := &g.r.Site
	loc := site.Location()
	if g.events, err = g.st.Events(g.ctx, g.q.Site, p.First.AddDays(-1).At(0, loc), g.q.Now.AddDate(0, 0, 2)); err != nil {
		return p, err
	}
	off, err := g.offSaleIn(p.First.AddDays(-1).At(0, loc), g.q.Now)
	if err != nil {
		return p, err
	}
	stale, err := g.staleDays(&p, before)
	if err != nil {
		return p, err
	}
	if err := g.pastAir(&p); err != nil {
		return p, err
	}
	for k := range p.Days {
		if err := g.ctx.Err(); err != nil {
			return p, err
		}
		g.report(float64(k) / float64(p.Days))
		date := p.First.AddDays(k)
		x := g.exposureOn(date, g.events, off)
		p.Names[k], p.Holiday[k] = g.holiday(date, x.events)
		for i, part := range site.DayParts {
			p.Events[i][k] = x.named(part)
		}
		if digest := x.digest(); stale[k] || digest != p.Said[k] {
			p.Said[k] = digest
			if err := g.readDay(&p, k, &x); err != nil {
				return p, err
			}
		}
	}
	return p, nil
}

// staleDays copies the days of an earlier history and marks the days that must be read again in any case: those it does not have,
// the newest, and those whose counts changed since.
func (g *gathering) staleDays(p *keptPast, before models.ForecastState) ([]bool, error) {
	stale := make([]bool, p.Days)
	kept := 0
	if old, ok := unpackPast(before.Past); ok && old.Digest == p.Digest {
		kept = p.take(&old)
	}
	for k := kept; k < p.Days; k++ {
		stale[k] = true
	}
	if kept == 0 {
		return stale, nil
	}
	late, err := g.st.LateDays(g.ctx, g.q.Site, before.MadeAt.Add(-lateRace))
	for _, d := range late {
		for k := p.First.DaysUntil(d) - 1; k <= p.First.DaysUntil(d)+1; k++ { // UTC days differ from the shop's
			if k >= 0 && k < p.Days {
				stale[k] = true
			}
		}
	}
	return stale, err
}

// lateRace is the longest time from a count's timestamp to its commit.
const lateRace = time.Hour

// readDay reads the counts of a day: of day parts in which the shop was open and the drink on sale for long enough, and of others
// that have sales all the same.
func (g *gathering) readDay(p *keptPast, k int, x *exposure) error {
	site := &g.r.Site
	for i := range p.series {
		p.Counts[i][k], p.Shares[i][k] = math.NaN(), 1
	}
	day, err := g.day(x.date, site.DayEnd(x.date))
	if err != nil || day.last.IsZero() {
		return err
	}
	silent, err := g.silentSellOuts(x.date)
	if err != nil {
		return err
	}
	x.off = append(slices.Clone(x.off), silent...)
	sold := make([]float64, len(site.DayParts))
	for i := range p.series {
		sold[p.Part[i]] += day.counts[partDrink{site.DayParts[p.Part[i]].Code, p.Drink[i]}]
	}
	open := site.OpenSpans(x.date)
	for i := range p.series {
		part := site.DayParts[p.Part[i]]
		n := day.counts[partDrink{part.Code, p.Drink[i]}]
		if !models.Touches(open, site.DayPartSpan(x.date, part)) {
			if sold[p.Part[i]] > 0 { // open all the same, for an unknown time
				p.Counts[i][k] = n
			}
			continue
		}
		onSale, weighted, err := x.share(part, p.Drink[i])
		if err != nil {
			return err
		}
		if onSale >= leastOnSale && weighted >= leastWeighted {
			p.Counts[i][k], p.Shares[i][k] = n, weighted
		}
	}
	return nil
}

// digest is a hash of the day's hours, events and spans off sale.
func (x *exposure) digest() uint64 {
	h := fnv.New64a()
	site := &x.g.r.Site
	day := models.Span{From: x.date.At(0, site.Location()), To: site.DayEnd(x.date)}
	put := func(what string, s models.Span, n float64) {
		s = s.Overlap(day)
		fmt.Fprint(h, what, s.From.Unix(), s.To.Unix(), n, ";")
	}
	for _, s := range site.OpenSpans(x.date) {
		put("open", s, 1)
	}
	for _, e := range x.events {
		put(fmt.Sprint("event", e.Closed), models.Span{From: e.From, To: e.To}, e.Factor)
	}
	for _, o := range x.off {
		s := models.Span{From: o.From, To: day.To}
		if o.To != nil {
			s.To = *o.To
		}
		put("off "+o.Drink, s, 0)
	}
	return h.Sum64()
}

func (g *gathering) emptyPast(mappings []models.ItemMapping) keptPast {
	p := keptPast{First: g.today.AddDays(-learntDays), Days: learntDays, Weather: make([][airs][]float64, len(g.r.Site.DayParts)),
		Holiday: make([]bool, learntDays), Names: make([]string, learntDays), Events: make([][]string, len(g.r.Site.DayParts)), Said: make([]uint64, learntDays)}
	mapped := map[string]bool{}
	for _, m := range mappings {
		if m.Drink != nil {
			mapped[*m.Drink] = true
		}
	}
	var labels []string
	for k, part := range g.r.Site.DayParts {
		p.Events[k] = make([]string, p.Days)
		for w := range p.Weather[k] {
			p.Weather[k][w] = unknown(p.Days)
		}
		for _, d := range g.r.Drinks {
			if mapped[d.Code] {
				p.series, p.Part, p.Drink = append(p.series, forecast.SeriesKey{DayPart: part.Code, Drink: d.Code}), append(p.Part, k), append(p.Drink, d.Code)
				labels = append(labels, part.Code+" "+d.Code)
				p.Counts, p.Shares = append(p.Counts, unknown(p.Days)), append(p.Shares, unknown(p.Days))
			}
		}
	}
	weekly := slices.DeleteFunc(slices.Clone(g.r.Site.Opening), func(o models.Opening) bool { return o.Date != nil })
	body, _ := json.Marshal([]any{mappings, g.r.Site.Timezone, g.r.Site.DayParts, weekly, labels})
	p.Digest = sha256.Sum256(body)
	return p
}

func unknown(n int) []float64 {
	xs := make([]float64, n)
	for i := range xs {
		xs[i] = math.NaN()
	}
	return xs
}

// take copies the days of an earlier history that need not be read again, and returns the number of days it now holds.
func (p *keptPast) take(old *keptPast) int {
	shift := old.First.DaysUntil(p.First)
	n := old.Days - shift - forecast.LateDays
	if shift < 0 || n <= 0 || len(old.Counts) != len(p.Counts) || len(old.Shares) != len(p.Shares) || len(old.Said) != old.Days {
		return 0
	}
	for i := range p.Counts {
		copy(p.Counts[i][:n], old.Counts[i][shift:])
		copy(p.Shares[i][:n], old.Shares[i][shift:])
	}
	copy(p.Said[:n], old.Said[shift:])
	return n
}

// pastAir sets the observed weather of the day parts.
func (g *gathering) pastAir(p *keptPast) error {
	loc := g.r.Site.Location()
	hours, err := g.st.Weather(g.ctx, g.q.Site, p.First.At(0, loc), g.q.Now, g.q.Now)
	if err != nil {
		return err
	}
	air := airOf(hours)
	for k := range p.Days {
		date := p.First.AddDays(k)
		for i, part := range g.r.Site.DayParts {
			a := air.within(g.r.Site.DayPartSpan(date, part))
			for w, x := range [airs]*float64{a.TempC, a.RainMM, a.Humidity} {
				if x != nil {
					p.Weather[i][w][k] = *x
				}
			}
		}
	}
	return nil
}

// rows returns the history as input to the forecast. A drink's history begins with its first sale.
func (p *keptPast) rows() []forecast.Past {
	first := map[string]int{}
	for i, counts := range p.Counts {
		for k, y := range counts {
			if old, ok := first[p.Drink[i]]; y > 0 && (!ok || k < old) {
				first[p.Drink[i]] = k
			}
		}
	}
	var out []forecast.Past
	for i, counts := range p.Counts {
		from, sold := first[p.Drink[i]]
		if !sold {
			continue
		}
		for k := from; k < p.Days; k++ {
			a := forecast.Ahead{SeriesKey: p.series[i], Date: p.First.AddDays(k), Holiday: p.Holiday[k], HolidayName: p.Names[k], Event: p.Events[p.Part[i]][k]}
			if share := &p.Shares[i][k]; *share != 1 && !math.IsNaN(*share) {
				a.OpenShare = share
			}
			air := &p.Weather[p.Part[i]]
			for w, dst := range [airs]**float64{&a.TempC, &a.RainMM, &a.Humidity} {
				if x := &air[w][k]; !math.IsNaN(*x) {
					*dst = x
				}
			}
			row := forecast.Past{Ahead: a}
			if y := &counts[k]; !math.IsNaN(*y) {
				row.Open, row.Demand = true, y
			}
			out = append(out, row)
		}
	}
	return out
}

// hourly is the weather by hour.
type hourly map[int64]models.WeatherHour

func airOf(rows []models.WeatherRow) hourly {
	h := make(hourly, len(rows))
	for _, r := range rows {
		h[r.At.Unix()/3600] = r.WeatherHour
	}
	return h
}

// within returns the mean temperature and humidity and the rain of a span, as a row of the forecast.
func (h hourly) within(s models.Span) (a forecast.Ahead) {
	var temp, humid, rain, n, humids, rains float64
	for at := s.From.Unix() / 3600; at*3600 < s.To.Unix(); at++ {
		w, ok := h[at]
		if !ok {
			continue
		}
		temp, n = temp+w.TempC, n+1
		if w.HumidityPct != nil {
			humid, humids = humid+*w.HumidityPct, humids+1
		}
		if w.RainMM != nil {
			rain, rains = rain+*w.RainMM, rains+1
		}
	}
	if n > 0 {
		temp /= n
		a.TempC = &temp
	}
	if humids > 0 {
		humid /= humids
		a.Humidity = &humid
	}
	if rains > 0 {
		a.RainMM = &rain
	}
	return a
}
