package picture

import (
	"html"
	"strconv"
	"strings"
)

// canvas builds SVG. open and text escape their texts; raw and class names are not escaped.
type canvas struct {
	b      strings.Builder
	m      measure
	inLink bool            // a link is open
	texts  strings.Builder // of that link: drawn after it, since its name says them
}

// measure estimates the width of a text, generously, since the fonts are unknown.
type measure struct{ size float64 }

const widthPerEm = 0.57

func (m measure) width(s string) float64 {
	w := 0.0
	for _, r := range s {
		switch {
		case r == '\u202f' || r == ' ' || r == '.' || r == ',' || r == ':' || r == 'i' || r == 'l' || r == 'I' || r == '·':
			w += 0.34
		case r == 'm' || r == 'w' || r == 'M' || r == 'W' || r == '%':
			w += 0.9
		default:
			w += widthPerEm + 0.03
		}
	}
	return w * m.size
}

func num(x float64) string {
	return strconv.FormatFloat(float64(int(x*10+sign(x)*0.5))/10, 'f', -1, 64)
}

func sign(x float64) float64 {
	if x < 0 {
		return -1
	}
	return 1
}

func (c *canvas) raw(parts ...string) {
	for _, p := range parts {
		c.b.WriteString(p)
	}
}

func (c *canvas) open(name, class string, attrs ...string) {
	c.raw("<", name)
	if class != "" {
		c.raw(` class="`, class, `"`)
	}
	for i := 0; i+1 < len(attrs); i += 2 {
		c.raw(" ", attrs[i], `="`, html.EscapeString(attrs[i+1]), `"`)
	}
	c.raw(">")
	c.inLink = c.inLink || name == "a"
}

func (c *canvas) close(name string) {
	c.raw("</", name, ">")
	if name == "a" {
		c.raw(c.texts.String())
		c.texts.Reset()
		c.inLink = false
	}
}

func (c *canvas) rect(class string, x, y, w, h float64) {
	c.raw(`<rect class="`, class, `" x="`, num(x), `" y="`, num(y), `" width="`, num(max(w, 0)), `" height="`, num(max(h, 0)), `"/>`)
}

func (c *canvas) line(class string, x1, y1, x2, y2 float64) {
	c.raw(`<line class="`, class, `" x1="`, num(x1), `" y1="`, num(y1), `" x2="`, num(x2), `" y2="`, num(y2), `"/>`)
}

func (c *canvas) path(class, d string) { c.raw(`<path class="`, class, `" d="`, d, `"/>`) }

// text writes s with its anchor (start, middle or end) at x.
func (c *canvas) text(class, anchor string, x, y float64, s string) {
	to, more := &c.b, ""
	if anchor != "start" {
		more = ` text-anchor="` + anchor + `"`
	}
	if c.inLink {
		to, more = &c.texts, more+` aria-hidden="true" pointer-events="none"`
	}
	for _, part := range []string{`<text class="`, class, `" x="`, num(x), `" y="`, num(y), `"`, more, ">", html.EscapeString(s), "</text>"} {
		to.WriteString(part)
	}
}

type point struct{ x, y float64 }

// polyline returns a path through points, without those on a straight line between their neighbours.
func polyline(pts []point) string {
	var b strings.Builder
	kept := 0
	for i, p := range pts {
		if i > 0 && i < len(pts)-1 && straight(pts[i-1], p, pts[i+1]) {
			continue
		}
		if kept == 0 {
			b.WriteString("M")
		} else {
			b.WriteString("L")
		}
		b.WriteString(num(p.x) + " " + num(p.y))
		kept++
	}
	return b.String()
}

func straight(a, b, c point) bool {
	if c.x-a.x < 1e-9 {
		return false
	}
	y := a.y + (c.y-a.y)*(b.x-a.x)/(c.x-a.x)
	return y-b.y < 0.04 && b.y-y < 0.04
}

// rowPacker assigns spans of x to rows without overlap, each to the first row with room.
type rowPacker struct{ ends []float64 }

func (r *rowPacker) place(from, to float64) int {
	for i, end := range r.ends {
		if from >= end {
			r.ends[i] = to
			return i
		}
	}
	r.ends = append(r.ends, to)
	return len(r.ends) - 1
}
