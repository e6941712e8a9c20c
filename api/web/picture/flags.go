package picture

import (
	"cmp"
	"slices"
	"strconv"
	"time"
)

// flags marks when to take beans from storage and when to prepare water.
func (p *drawing) flags() {
	type flag struct {
		at                   time.Time
		words, title, anchor string
	}
	var list []flag
	for i, d := range p.plan.Water {
		if d.DrawL < 0.05 {
			continue
		}
		at := d.At
		for k, part := range p.req.Site.DayParts {
			if part.Code == d.DayPart && at.IsZero() { // of a version that knew only day parts
				at = p.req.Site.DayPartSpan(d.Date, p.req.Site.DayParts[k]).From
			}
		}
		if !at.IsZero() {
			list = append(list, flag{at, p.say("picture.draw", "water", p.q.Volume(d.DrawL)), p.say("picture.draw_why", "water", p.q.Volume(d.DrawL), "at", p.q.At(at),
				"brew", p.q.Volume(d.BrewL), "ice", p.q.Volume(d.IceL), "drinks", p.q.Volume(d.DrinkL)), "#t-" + strconv.Itoa(i)})
		}
	}
	for i, b := range p.plan.Pulls {
		if b.G >= 0.5 {
			list = append(list, flag{b.PullBy, p.say("picture.pull", "mass", p.q.GlanceMass(b.G), "coffee", b.Coffee), p.say("picture.pull_why", "mass", p.q.ExactMass(b.G), "lot", b.Lot,
				"place", b.FromPlace, "by", p.q.At(b.PullBy), "from", p.q.At(b.UseFrom)), "#p-" + strconv.Itoa(i)})
		}
	}
	slices.SortStableFunc(list, func(a, b flag) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.words, b.words)) })
	p.lane(p.say("picture.water_beans"), func(top float64) int {
		var used rowPacker
		for _, f := range list {
			if !p.axis.Holds(f.at) {
				continue
			}
			x, w := p.axis.X(f.at), p.m.width(f.words)+12
			side := 1.0
			from, anchor := x, "start"
			if x+w > p.axis.Right() {
				side, from, anchor = -1, x-w, "end"
			}
			y := top + rowHeight*float64(used.place(from-2, from+w+2))
			p.open("a", "flag", "href", f.anchor, "aria-label", f.title)
			p.rect("hit", from, y, w, rowHeight-2)
			p.line("pole", x, y+1, x, y+20)
			p.path("cloth", "M"+num(x)+" "+num(y+1)+"L"+num(x+8*side)+" "+num(y+5.5)+"L"+num(x)+" "+num(y+10)+"Z")
			p.text("bar-word halo", anchor, x+11*side, y+14, f.words)
			p.close("a")
		}
		return len(used.ends)
	})
}
