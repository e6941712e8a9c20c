package picture

import (
	"math"
	"time"

	"hotday/models"
)

// temperature draws the air temperature, with each day's peak as text.
func (p *drawing) temperature(height float64) {
	p.section(func(top float64) float64 {
		p.rule(top, height)
		if p.narrow {
			p.text("lane-name halo", "end", p.axis.Right()-4, top+14, p.say("picture.air"))
		} else {
			p.text("lane-name", "start", 0, top+14, p.say("picture.air"))
		}
		var pts []point
		low, high := math.Inf(1), math.Inf(-1)
		for _, w := range p.req.Weather {
			low, high = math.Min(low, w.TempC), math.Max(high, w.TempC)
		}
		high, low = high+1, math.Min(low, high-12)
		y := func(c float64) float64 { return top + height - 6 - (height-28)*(c-low)/(high-low) }
		for _, w := range p.req.Weather {
			if p.axis.Holds(w.At) {
				pts = append(pts, point{p.axis.X(w.At), y(w.TempC)})
			}
		}
		if len(pts) == 0 {
			p.text("aside", "start", p.axis.Left()+36, top+14, p.say("picture.no_forecast"))
			return height
		}
		area := append(append([]point{{pts[0].x, top + height}}, pts...), point{pts[len(pts)-1].x, top + height})
		p.path("heat-fill", polyline(area)+"Z")
		p.path("heat-line", polyline(pts))
		for _, d := range p.dates() {
			peak, ok := warmest(p.req.Weather, p.axis, d, p.loc)
			if !ok {
				continue
			}
			words := p.say("picture.at", "what", p.q.WholeTemp(peak.TempC), "when", p.q.Clock(peak.At))
			x := p.axis.X(peak.At)
			anchor, _ := p.anchor(x, p.m.width(words))
			p.raw(`<circle class="heat-dot" r="3" cx="`, num(x), `" cy="`, num(y(peak.TempC)), `"/>`)
			p.text("heat-word halo", anchor, x, y(peak.TempC)-7, words)
		}
		return height
	})
}

func warmest(hours []models.WeatherHour, a Axis, d models.Date, loc *time.Location) (peak models.WeatherHour, ok bool) {
	for _, w := range hours {
		if a.Holds(w.At) && models.DateOf(w.At, loc) == d && (!ok || w.TempC > peak.TempC) {
			peak, ok = w, true
		}
	}
	return peak, ok
}
