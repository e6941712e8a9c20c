package picture

import (
	"slices"
	"strconv"
	"strings"

	"hotday/models"
)

// maxPins is the number of warnings in one drawing; the page lists all.
const maxPins = 6

// weight orders grades and scales the wedge.
func weight(grade string) int {
	switch grade {
	case models.GradeActNow:
		return 2
	case models.GradeActToday:
		return 1
	}
	return 0
}

// warnings draws a wedge on the base line for each warning, larger for a more severe one, with its text below.
func (p *drawing) warnings() {
	type pin struct {
		w     models.Warning
		index int
	}
	var list []pin
	for i, w := range p.plan.Warnings {
		if !w.At.IsZero() && p.axis.Holds(w.At) {
			list = append(list, pin{w, i})
		}
	}
	slices.SortStableFunc(list, func(a, b pin) int { return weight(b.w.Grade) - weight(a.w.Grade) })
	more := max(0, len(list)-maxPins)
	list = list[:len(list)-more]
	slices.SortStableFunc(list, func(a, b pin) int { return b.w.At.Compare(a.w.At) })
	if len(list) == 0 {
		return
	}
	p.section(func(top float64) float64 {
		ground := top - 26 + 4
		y := top + 12
		var used rowPacker
		bottom := top
		for _, n := range list {
			x := p.axis.X(n.w.At)
			words := p.q.Clock(n.w.At) + " " + p.q.WarningShort(n.w)
			lines := p.wrap(words, p.axis.Right()-p.axis.Left()-10)
			wide := 0.0
			for _, l := range lines {
				wide = max(wide, p.m.width(l)*1.08)
			}
			anchor, from := "start", x+2
			if from+wide > p.axis.Right() {
				anchor, from = "end", x-2-wide
				if from < p.axis.Left() {
					anchor, from = "start", p.axis.Left()+5
				}
			}
			row := 0
			if p.narrow {
				row = int((bottom - top + 17) / 18)
			} else {
				// Later warnings are higher, so that leader lines do not cross texts to their right.
				row = used.place(-1e6, 1e6)
			}
			line := y + 18*float64(row)
			size := float64(5 + 4*weight(n.w.Grade))
			p.open("a", "pin "+n.w.Grade, "href", "#w-"+strconv.Itoa(n.index), "aria-label", p.q.WarningSentence(n.w)+". "+n.w.Cause)
			p.line("leader", x, ground, x, line-4)
			p.path("wedge", "M"+num(x-size)+" "+num(ground)+"L"+num(x+size)+" "+num(ground)+"L"+num(x)+" "+num(ground-2.2*size)+"Z")
			at := from
			if anchor == "end" {
				at = from + wide
			}
			for k, l := range lines {
				p.text("pin-words halo", anchor, at+map[bool]float64{true: -3, false: 3}[anchor == "end"], line+18*float64(k), l)
			}
			p.close("a")
			bottom = max(bottom, line+18*float64(len(lines)-1)+4)
		}
		if more > 0 {
			bottom += 18
			p.text("aside", "start", p.axis.Left()+5, bottom-2, p.say("picture.more", "n", more))
		}
		return bottom - top + 8
	})
}

// wrap breaks a text into lines of at most a width.
func (p *drawing) wrap(s string, width float64) []string {
	var lines []string
	line := ""
	for _, w := range strings.Split(s, " ") { // but not at narrow spaces within numbers
		if line != "" && p.m.width(line+" "+w)*1.08 > width {
			lines, line = append(lines, line), w
			continue
		}
		line = strings.TrimPrefix(line+" "+w, " ")
	}
	return append(lines, line)
}
