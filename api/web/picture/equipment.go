package picture

import (
	"strconv"
	"time"

	"hotday/models"

	"hotday/planner/say"
	"hotday/planner/sheet"
)

const rowHeight = 26

// lanes draws a lane for each brewer, ice machine and mould set.
func (p *drawing) lanes() {
	for _, b := range p.req.Brewers {
		p.lane(b.Code, func(top float64) int { return p.brewer(b.Code, top) })
	}
	for _, m := range p.req.Ice.Makers {
		p.lane(say.For(p.req.Site).StationMark(m.Code, &p.req.Ice), func(top float64) int { return p.maker(m.Code, top) })
	}
	for _, m := range p.req.Ice.Moulds {
		p.lane(say.For(p.req.Site).StationMark(m.Code, &p.req.Ice), func(top float64) int { return p.moulds(m.Code, top) })
	}
}

// lane draws a name and calls draw for the content, which returns its number of rows. Narrow drawings omit empty lanes.
func (p *drawing) lane(name string, draw func(top float64) int) {
	before, rules := p.b.String(), p.rules
	p.section(func(top float64) float64 {
		p.rule(top, 0)
		head := 0.0
		if p.narrow {
			head = 17
			p.text("lane-name", "start", p.margin(), top+14, name)
		} else {
			p.text("lane-name", "start", 0, top+17, p.fit(name, p.axis.Left()-10))
		}
		took := draw(top + head + 3)
		if p.narrow && took == 0 {
			p.b.Reset()
			p.raw(before)
			p.rules = rules
			return 0
		}
		return head + 6 + rowHeight*float64(max(1, took))
	})
}

// outages hatches the outages of a piece of equipment.
func (p *drawing) outages(kind, code string, top float64) {
	for _, o := range p.req.Outages {
		sp := models.Span{From: o.From, To: o.To}.Overlap(models.Span{From: p.axis.From, To: p.axis.To})
		if o.Kind != kind || o.Code != code || sp.Empty() {
			continue
		}
		x, to := p.axis.X(sp.From), p.axis.X(sp.To)
		p.open("g", "detail", "role", "img", "aria-label", p.say("picture.out_span", "what", code, "from", p.q.At(o.From), "to", p.q.At(o.To)))
		p.rect("out", x, top, to-x, 18)
		hatch := ""
		for s := x + 6; s < to; s += 7 {
			hatch += "M" + num(s) + " " + num(top) + "l-6 18"
		}
		p.path("out-hatch", hatch)
		p.text("out-word halo", "middle", (x+to)/2, top+13, p.say("picture.out"))
		p.close("g")
	}
}

// brewer draws a brewer's batches: hot until the ice is stirred in, cold until ready, then a thin line until use by.
func (p *drawing) brewer(code string, top float64) int {
	p.outages("brewer", code, top)
	var used rowPacker
	for _, o := range p.req.Outages {
		if sp := (models.Span{From: o.From, To: o.To}).Overlap(models.Span{From: p.axis.From, To: p.axis.To}); o.Kind == "brewer" && o.Code == code && !sp.Empty() {
			used.place(p.axis.X(sp.From), p.axis.X(sp.To)+2)
		}
	}
	for i, b := range p.plan.Batches {
		if b.Brewer != code || b.UseBy.Before(p.axis.From) || b.Start.After(p.axis.To) {
			continue
		}
		start, ready, useBy := p.axis.X(b.Start), p.axis.X(b.Ready), p.axis.X(b.UseBy)
		words := p.beverageName(b.Beverage) + " · " + p.q.GlanceMass(b.BeverageG)
		if b.State == models.Made || b.State == models.Started {
			words += " · " + p.say("picture.state."+b.State)
		}
		w := p.m.width(words)
		anchor, at, from, to := "start", ready+4, start, max(useBy, ready+4+w)
		if b.Start.Before(p.axis.From) {
			at = max(at, p.axis.Left()+6)
			to = max(useBy, at+w)
		}
		if at+w > p.axis.Right() {
			anchor, at = "end", start-4
			if at-w < p.axis.Left() {
				anchor, at = "end", p.axis.Right()-2
			}
			from = min(start, at-w)
		}
		row := used.place(from-2, to+6)
		y := top + rowHeight*float64(row)
		p.open("a", "batch", "href", "#b-"+strconv.Itoa(i), "aria-label", p.batchTitle(b))
		p.rect("hit", from, y, to-from, rowHeight-2)
		p.line("tail", ready, y+18, useBy, y+18)
		if b.UseBy.Before(p.axis.To) {
			p.line("tail-end", useBy, y+13, useBy, y+22)
		}
		p.batchBar(b, y+2)
		p.text("bar-word halo", anchor, at, y+12, words)
		p.close("a")
	}
	return len(used.ends)
}

func (p *drawing) batchBar(b models.BatchTask, y float64) {
	start, ready := p.axis.X(b.Start), p.axis.X(b.Ready)
	if !b.StrainAt.IsZero() {
		p.rect("cold", start, y, max(2, ready-start), 17)
		return
	}
	cold := ready
	if !b.IceAt.IsZero() && b.IceAt.Before(b.Ready) {
		cold = p.axis.X(b.IceAt)
	}
	if cold == ready {
		cold = start + 0.7*(ready-start)
	}
	p.rect("hot", start, y, max(1, cold-start), 17)
	p.rect("cold", cold, y, max(1, ready-cold), 17)
}

func (p *drawing) batchTitle(b models.BatchTask) string {
	key := "picture.batch"
	if b.IceG > 0 {
		key = "picture.batch_ice"
	}
	s := p.say(key, "beverage", p.beverageName(b.Beverage), "brewer", b.Brewer, "start", p.q.At(b.Start), "water", p.q.ExactMass(b.BrewWaterG), "dose", p.q.ExactMass(b.DoseG),
		"ice", p.q.ExactMass(b.IceG), "mass", p.q.ExactMass(b.BeverageG), "ready", p.q.At(b.Ready), "use_by", p.q.At(b.UseBy))
	if b.Serves != "" {
		s += p.say("picture.why", "why", b.Serves)
	}
	if words := sheet.OtherwiseText(b.Otherwise, p.req.Site); words != "" {
		s += " " + words
	}
	return s
}

func (p *drawing) beverageName(code string) string {
	for _, b := range p.req.Beverages {
		if b.Code == code && b.Name != "" {
			return b.Name
		}
	}
	return code
}

// maker draws an ice machine's quota for each day part as a ramp up to the due time.
func (p *drawing) maker(code string, top float64) int {
	p.outages("maker", code, top)
	before, took := time.Time{}, 0
	for i, q := range p.plan.Ice.Quotas {
		if q.Maker != code {
			continue
		}
		from := before
		if before = q.Due; from.IsZero() {
			from = p.plan.ComputedAt
		}
		if q.MakeG < 1 || q.Due.Before(p.axis.From) || from.After(p.axis.To) {
			continue
		}
		x0, x1 := p.axis.X(from), p.axis.X(q.Due)
		words := p.say("picture.by", "mass", p.q.GlanceMass(q.MakeG), "when", p.q.Clock(q.Due))
		if p.m.width(words) > x1-x0-4 {
			words = p.q.GlanceMass(q.MakeG)
		}
		if p.m.width(words) > x1-x0 {
			words = ""
		}
		took = 1
		p.open("a", "quota", "href", "#q-"+strconv.Itoa(i), "aria-label", p.say("picture.must_add", "maker", code, "mass", p.q.ExactMass(q.MakeG), "from", p.q.At(from), "due", p.q.At(q.Due), "part", q.DayPart))
		p.rect("hit", x0, top, x1-x0, rowHeight-2)
		p.path("ramp", "M"+num(x0)+" "+num(top+18)+"L"+num(x1)+" "+num(top+18)+"L"+num(x1)+" "+num(top+4)+"Z")
		p.line("due", x1, top, x1, top+18)
		p.text("bar-word halo", "end", x1-4, top+13, words)
		p.close("a")
	}
	return took
}

// moulds draws the loads of a mould set from filling to removal.
func (p *drawing) moulds(code string, top float64) int {
	p.outages("mould", code, top)
	var used rowPacker
	for i, q := range p.plan.Ice.Quotas {
		if q.Maker != code {
			continue
		}
		for _, l := range q.Loads {
			if l.TakeAt.Before(p.axis.From) || l.FillAt.After(p.axis.To) {
				continue
			}
			x0, x1 := p.axis.X(l.FillAt), p.axis.X(l.TakeAt)
			words := p.q.GlanceMass(l.G)
			w := p.m.width(words) + 8
			row := used.place(x0, max(x1, x0+w)+2)
			y := top + rowHeight*float64(row)
			p.open("a", "load", "href", "#q-"+strconv.Itoa(i), "aria-label", p.say("picture.load", "mould", code, "fill", p.q.At(l.FillAt), "mass", p.q.ExactMass(l.G), "take", p.q.At(l.TakeAt), "part", q.DayPart))
			p.rect("hit", x0, y, max(x1-x0, w), rowHeight-2)
			p.rect("frozen", x0, y+3, max(2, x1-x0-1), 14)
			anchor, at := "start", x0+4
			if at+w > p.axis.Right() {
				anchor, at = "end", p.axis.Right()-2
			}
			p.text("bar-word halo", anchor, at, y+14, words)
			p.close("a")
		}
	}
	return len(used.ends)
}
