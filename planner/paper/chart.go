package paper

import (
	"cmp"
	"slices"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"hotday/models"
	"hotday/planner/demand"
	"hotday/planner/say"
)

// chart is a chart of a span of a plan on a time axis: the level of ice for drinks (the tide), then a lane for each brewer, ice
// machine and mould set.
type chart struct {
	*doc
	setup    *models.Setup
	plan     *models.Plan
	span     models.Span
	loc      *time.Location
	x0, x1   float64 // of the axis
	left     float64 // x of the lanes' names
	pt       float64 // font size
	row      float64 // height of a row of a lane
	tide     float64 // height of the ice level chart
	weather  []models.WeatherHour
	heat     float64 // height of the temperature chart; 0: none
	servings float64 // height of the chart of expected servings; 0: none
}

// x is the position of an instant, clamped to the axis.
func (p *chart) x(t time.Time) float64 {
	share := t.Sub(p.span.From).Seconds() / p.span.To.Sub(p.span.From).Seconds()
	return p.x0 + (p.x1-p.x0)*min(max(share, 0), 1)
}

func (p *chart) contains(t time.Time) bool { return !t.Before(p.span.From) && !t.After(p.span.To) }

// overlaps reports whether a span of time overlaps the axis.
func (p *chart) overlaps(from, to time.Time) bool {
	return from.Before(p.span.To) && to.After(p.span.From)
}

// draw draws from y down and returns the lower edge. If dry is set it only measures.
func (p *chart) draw(y float64, dry bool) float64 {
	lanes := p.lanes()
	bottom := y + p.heat + p.servings + p.tide + mm(p.pt)*1.5
	for _, l := range lanes {
		bottom += p.row*float64(l.rows) + 0.8
	}
	if dry {
		return bottom
	}
	p.columns(y, bottom)
	if p.heat > 0 {
		p.heatLine(y, p.heat)
		y += p.heat
	}
	if p.servings > 0 {
		p.expected(y, p.servings)
		y += p.servings
	}
	p.tideLine(y, p.tide)
	y += p.tide
	p.hours(y)
	y += mm(p.pt) * 1.5
	for _, l := range lanes {
		p.rule(light, 0.1, p.x0, y, p.x1, y)
		p.name(y+p.row*0.72, l.name)
		for _, b := range l.bars {
			p.bar(b, y+p.row*float64(b.row))
		}
		y += p.row*float64(l.rows) + 0.8
	}
	return y
}

func (p *chart) name(y float64, s string) {
	p.ink(black)
	pt := p.pt
	p.font("B", pt)
	for p.widthOf(s) > p.x0-p.left-1.5 && pt > 4.5 {
		pt -= 0.25
		p.font("B", pt)
	}
	p.text(p.left, y, p.truncate(s, p.x0-p.left-1.5))
}

// truncate truncates a name that does not fit; the sheet below has it in full.
func (p *chart) truncate(s string, width float64) string {
	if p.widthOf(s) <= width {
		return s
	}
	r := []rune(s)
	for len(r) > 1 && p.widthOf(string(r)+"…") > width {
		r = r[:len(r)-1]
	}
	return string(r) + "…"
}

// columns shades every second day part.
func (p *chart) columns(top, bottom float64) {
	date := p.setup.Site.ServiceDayOf(p.span.From.Add(p.span.To.Sub(p.span.From) / 2))
	for i, part := range p.setup.Site.DayParts {
		sp := p.setup.Site.DayPartSpan(date, part).Overlap(p.span)
		if sp.Empty() {
			continue
		}
		if i%2 == 0 {
			p.fill(faint, p.x(sp.From), top, p.x(sp.To)-p.x(sp.From), bottom-top)
		}
	}
}

func (p *chart) hours(y float64) {
	p.ink(grey)
	p.font("", p.pt)
	step := 1
	w := p.widthOf(p.Clock(models.Date("2026-01-01").At(12*60, p.loc)))
	if perHour := (p.x1 - p.x0) / p.span.To.Sub(p.span.From).Hours(); perHour < w+1 {
		step = 1 + int((w+1)/perHour)
	}
	for t := p.span.From.Truncate(time.Hour); !t.After(p.span.To); t = t.Add(time.Hour) {
		local := t.In(p.loc)
		if !p.contains(t) || local.Minute() != 0 {
			continue
		}
		x := p.x(t)
		p.rule(ground, 0.15, x, y, x, y+0.8)
		if local.Hour()%step == 0 && x-w/2 > p.x0-2 && x+w/2 < p.x1+3 {
			p.text(x-p.widthOf(p.Clock(t))/2, y+mm(p.pt)*1.25, p.Clock(t))
		}
	}
}

// tideLine draws the ice level in the bin: the area below P10 filled, that up to P90 lighter, the planned level as a line.
func (p *chart) tideLine(y, height float64) {
	levels := p.levels()
	top := 1000.0
	for _, l := range levels {
		top = max(top, l.G, l.P90G)
	}
	base := y + height
	at := func(l models.IceLevel, g float64) fpdf.PointType {
		return fpdf.PointType{X: p.x(l.At), Y: base - (height-mm(p.pt)*1.3)*max(g, 0)/top}
	}
	p.name(y+mm(p.pt)*1.1, p.Say("paper.tide"))
	p.font("", p.pt)
	p.ink(grey)
	p.text(p.left, y+mm(p.pt)*2.4, p.Say("paper.tide.where"))
	if len(levels) > 1 {
		var mid, low, high []fpdf.PointType
		for _, l := range levels {
			mid, low, high = append(mid, at(l, l.G)), append(low, at(l, l.P10G)), append(high, at(l, l.P90G))
		}
		closed := func(pts []fpdf.PointType) []fpdf.PointType {
			return append(append([]fpdf.PointType{{X: pts[0].X, Y: base}}, pts...), fpdf.PointType{X: pts[len(pts)-1].X, Y: base})
		}
		p.polygon(foam, closed(high))
		p.polygon(shoal, closed(low))
		p.polyline(water, 0.4, mid)
		p.tideLabels(levels, at)
	}
	p.fill(ground, p.x0, base-0.15, p.x1-p.x0, 0.5)
}

// levels are the ice levels within the axis and the last one before it.
func (p *chart) levels() []models.IceLevel {
	var out []models.IceLevel
	for i, l := range p.plan.Ice.Levels {
		next := min(i+1, len(p.plan.Ice.Levels)-1)
		if p.contains(l.At) || (l.At.Before(p.span.From) && p.plan.Ice.Levels[next].At.After(p.span.From)) {
			out = append(out, l)
		}
	}
	return out
}

// tideLabels labels the level at the start, the lowest one, and the time at which the ice may run out.
func (p *chart) tideLabels(levels []models.IceLevel, at func(models.IceLevel, float64) fpdf.PointType) {
	lowest := levels[0]
	for _, l := range levels {
		if l.G < lowest.G {
			lowest = l
		}
	}
	runOut := ""
	for _, r := range p.plan.RunOuts() {
		if p.contains(r.At) {
			runOut = p.Say("paper.empty", "clock", p.Clock(r.At), "chance", p.AboutChance(r.ChancePct))
			break
		}
	}
	p.ink(black)
	p.font("B", p.pt)
	put := func(l models.IceLevel, words string) {
		dot := at(l, l.G)
		w := p.widthOf(words)
		x := min(max(dot.X-w/2, p.x0+1), p.x1-w)
		y := dot.Y
		for _, o := range levels { // above the line over the width of the label
			if q := at(o, o.G); q.X >= x-1 && q.X <= x+w+1 {
				y = min(y, q.Y)
			}
		}
		p.pdf.SetFillColor(water.r, water.g, water.b)
		p.pdf.Circle(dot.X, dot.Y, 0.6, "F")
		p.text(x, y-1.2, words)
	}
	if lowest.At.Sub(levels[0].At) > p.span.To.Sub(p.span.From)/6 {
		put(levels[0], p.GlanceMass(levels[0].G))
	}
	words := p.Say("paper.lowest", "mass", p.GlanceMass(lowest.G), "clock", p.Clock(lowest.At))
	if lowest.G <= 1 && runOut != "" {
		words = runOut
	} else if runOut != "" {
		words += ", " + runOut
	}
	put(lowest, words)
}

// heatLine draws the air temperature and labels its peak.
func (p *chart) heatLine(y, height float64) {
	p.name(y+mm(p.pt)*1.6, p.Say("paper.heat"))
	var hours []models.WeatherHour
	for _, h := range p.weather {
		if p.contains(h.At) {
			hours = append(hours, h)
		}
	}
	if len(hours) < 2 {
		p.ink(black)
		p.font("", p.pt)
		p.text(p.x0+1, y+mm(p.pt)*1.6, p.Say("paper.heat.unknown"))
		return
	}
	slices.SortFunc(hours, func(a, b models.WeatherHour) int { return a.At.Compare(b.At) })
	least, most := hours[0], hours[0]
	for _, h := range hours {
		if h.TempC < least.TempC {
			least = h
		}
		if h.TempC > most.TempC {
			most = h
		}
	}
	room := height - mm(p.pt)*1.6
	var pts []fpdf.PointType
	at := func(h models.WeatherHour) fpdf.PointType {
		return fpdf.PointType{X: p.x(h.At), Y: y + height - 0.8 - room*(h.TempC-least.TempC)/max(most.TempC-least.TempC, 1)}
	}
	for _, h := range hours {
		pts = append(pts, at(h))
	}
	p.polyline(amber, 0.5, pts)
	p.ink(black)
	p.font("B", p.pt)
	words := p.Say("paper.heat.peak", "temp", p.WholeTemp(most.TempC), "clock", p.Clock(most.At))
	x := min(max(at(most).X-p.widthOf(words)/2, p.x0+1), p.x1-p.widthOf(words))
	p.text(x, at(most).Y-1, words)
}

// expected draws the expected servings of each day part as a bar from P10 to P90 with a notch at the median.
func (p *chart) expected(y, height float64) {
	p.name(y+mm(p.pt)*1.6, p.Say("paper.servings"))
	date := p.setup.Site.ServiceDayOf(p.span.From.Add(p.span.To.Sub(p.span.From) / 2))
	top := 1.0
	sums := map[string]servings{}
	for _, part := range p.setup.Site.DayParts {
		if s, ok := combined(p.plan.Demand, date, part.Code); ok {
			sums[part.Code] = s
			top = max(top, s.high)
		}
	}
	room, base := height-mm(p.pt)*1.2, y+height-0.6
	for _, part := range p.setup.Site.DayParts {
		sp := p.setup.Site.DayPartSpan(date, part).Overlap(p.span)
		s, ok := sums[part.Code]
		if !ok || sp.Empty() {
			continue
		}
		x := p.x(sp.From) + 3
		p.fill(amber, x, base-room*s.high/top, 1.4, max(0.4, room*(s.high-s.low)/top))
		p.rule(black, 0.35, x-0.8, base-room*s.middle/top, x+2.2, base-room*s.middle/top)
		p.ink(black)
		p.font("B", p.pt)
		words := say.Number(s.middle, 0)
		p.text(x+3.2, base-room*s.middle/top+mm(p.pt)*0.35, words)
		at := x + 3.6 + p.widthOf(words)
		p.font("", p.pt)
		p.ink(grey)
		p.text(at, base-room*s.middle/top+mm(p.pt)*0.35, p.truncate(p.Say("paper.servings.range", "part", part.Code, "low", say.Number(s.low, 0), "high", say.Number(s.high, 0)), p.x(sp.To)-at))
	}
}

// servings are quantiles of the demand for all drinks of a day part: P10, median, P90.
type servings struct{ low, middle, high float64 }

// combined combines the demand ranges of the drinks of a day part, allowing for their correlation; ok is false if there are none.
func combined(rows []models.DemandRange, date models.Date, part string) (s servings, ok bool) {
	var ranges []demand.Range
	for _, r := range rows {
		if r.Date == date && r.DayPart == part {
			ranges = append(ranges, demand.FromForecast(models.Forecast{Mean: r.Mean, Levels: []float64{0.1, 0.5, 0.9}, Quantiles: []float64{r.P10, r.P50, r.P90}}))
		}
	}
	if len(ranges) == 0 {
		return servings{}, false
	}
	s.low, s.middle, s.high = demand.SumQuantiles(ranges, demand.DefaultCorrelation())
	return s, true
}

// lane is a named lane with its bars, in rows such that labels do not overlap.
type lane struct {
	name string
	bars []bar
	rows int
}

type bar struct {
	from, cold, to time.Time // hot until cold
	useBy          time.Time // use by
	label          string
	ice            bool // a load of ice
	due            bool // an amount due at to
	row            int
}

func (p *chart) lanes() []lane {
	var out []lane
	p.font("", p.pt)
	for _, b := range p.setup.Brewers {
		l := lane{name: b.Code}
		for _, x := range p.plan.Batches {
			if x.Brewer == b.Code && p.overlaps(x.Start, x.UseBy) && (p.overlaps(x.Start, x.Ready) || p.contains(x.Ready)) {
				n := bar{from: x.Start, cold: x.Ready, to: x.Ready, useBy: x.UseBy, label: p.truncate(beverageName(p.setup, x.Beverage), (p.x1-p.x0)/4) + " " + p.GlanceMass(x.BeverageG)}
				switch {
				case !x.StrainAt.IsZero():
					n.cold = x.Start // cold brew
				case !x.IceAt.IsZero():
					n.cold = x.IceAt
				}
				l.bars = append(l.bars, n)
			}
		}
		out = append(out, l)
	}
	for _, m := range p.setup.Ice.Makers {
		out = append(out, p.quotas(m.Code))
	}
	for _, m := range p.setup.Ice.Moulds {
		out = append(out, p.loads(m.Code))
	}
	out = slices.DeleteFunc(out, func(l lane) bool { return len(l.bars) == 0 })
	for i := range out {
		p.assignRows(&out[i])
	}
	return out
}

func (p *chart) quotas(code string) lane {
	l := lane{name: p.StationMark(code, &p.setup.Ice)}
	before := p.plan.ComputedAt
	for _, q := range p.plan.Ice.Quotas {
		if q.Maker != code {
			continue
		}
		if q.MakeG >= 1 && p.contains(q.Due) {
			l.bars = append(l.bars, bar{from: before, cold: before, to: q.Due, due: true, label: p.Say("paper.by", "mass", p.GlanceMass(q.MakeG), "clock", p.Clock(q.Due))})
		}
		before = q.Due
	}
	return l
}

func (p *chart) loads(code string) lane {
	l := lane{name: p.StationMark(code, &p.setup.Ice)}
	for _, q := range p.plan.Ice.Quotas {
		for _, x := range q.Loads {
			if q.Maker == code && p.overlaps(x.FillAt, x.TakeAt) {
				l.bars = append(l.bars, bar{from: x.FillAt, cold: x.FillAt, to: x.TakeAt, ice: true, label: p.GlanceMass(x.G)})
			}
		}
	}
	slices.SortFunc(l.bars, func(a, b bar) int { return cmp.Or(a.from.Compare(b.from), a.to.Compare(b.to)) })
	return l
}

// assignRows puts each bar in the first row in which neither it nor its label overlaps another.
func (p *chart) assignRows(l *lane) {
	var ends []float64
	slices.SortStableFunc(l.bars, func(a, b bar) int { return a.from.Compare(b.from) })
	for i := range l.bars {
		from, to := p.extent(l.bars[i])
		row := 0
		for row < len(ends) && ends[row] > from {
			row++
		}
		if row == len(ends) {
			ends = append(ends, 0)
		}
		ends[row] = to + 0.8
		l.bars[i].row = row
	}
	l.rows = len(ends)
}

// labelX is the x of a bar's label.
func (p *chart) labelX(b bar) float64 {
	w := p.widthOf(b.label)
	switch {
	case b.due:
		return max(p.x0+0.5, p.x(b.to)-w-0.8)
	case b.ice:
		switch from, to := p.x(b.from), p.x(b.to); {
		case from+0.8+w > p.x1:
			return from - w - 0.8
		case from+1.6+w > to && to+0.8+w <= p.x1: // it would cross the end of its bar
			return to + 0.8
		default:
			return from + 0.8
		}
	case p.x(b.to)+0.8+w <= p.x1:
		return p.x(b.to) + 0.8
	}
	return max(p.x0, p.x(b.from)-w-0.8)
}

func (p *chart) extent(b bar) (from, to float64) {
	at := p.labelX(b)
	return min(p.x(b.from), at), max(p.x(b.to), at+p.widthOf(b.label))
}

func (p *chart) bar(b bar, y float64) {
	from, cold, to := p.x(b.from), p.x(b.cold), p.x(b.to)
	h := p.row * 0.72
	switch {
	case b.due: // a ramp up to the due time
		p.polygon(foam, []fpdf.PointType{{X: from, Y: y + h}, {X: to, Y: y + h}, {X: to, Y: y + 0.3}})
		p.rule(water, 0.5, to, y+0.3, to, y+h)
	case b.ice:
		p.fill(foam, from, y+0.3, to-from, h)
		p.frame(water, 0.15, from, y+0.3, to-from, h)
	default:
		p.fill(amber, from, y+0.3, max(0, cold-from), h)
		p.fill(water, cold, y+0.3, max(0.3, to-cold), h)
		if tail := p.x(b.useBy); tail > to {
			p.rule(water, 0.2, to, y+h+0.15, tail, y+h+0.15)
			if p.contains(b.useBy) {
				p.rule(water, 0.3, tail, y+h-0.3, tail, y+h+0.6)
			}
		}
	}
	p.ink(black)
	p.font("", p.pt)
	p.text(p.labelX(b), y+0.3+h/2+mm(p.pt)*0.36, b.label)
}

func beverageName(s *models.Setup, code string) string {
	for _, b := range s.Beverages {
		if b.Code == code {
			return cmp.Or(b.Name, code)
		}
	}
	return code
}
