package paper

import (
	"strings"

	"hotday/planner/say"
)

// word is an unbreakable piece of a line.
type word struct {
	text  string
	style string
	pt    float64
	width float64
}

type line struct {
	words []word
	space float64 // between words
}

// wrap breaks text into lines of at most width. Numbers are bold and numberPt points, unless that equals pt; a word wider than a
// line is broken.
func (d *doc) wrap(s string, pt, numberPt float64, allBold bool, width float64) []line {
	d.font("", pt)
	space := d.widthOf(" ")
	var out []line
	cur, at := line{space: space}, 0.0
	for _, text := range splitWords(clean(s)) {
		w := word{text: text, pt: pt}
		if numberPt != pt && say.IsFigure(text) {
			w.style, w.pt = "B", numberPt
		}
		if allBold {
			w.style = "B"
		}
		d.font(w.style, w.pt)
		for _, piece := range d.breakWord(text, width) {
			w.text, w.width = piece, d.widthOf(piece)
			if len(cur.words) > 0 && at+space+w.width > width {
				out = append(out, cur)
				cur, at = line{space: space}, 0
			}
			if len(cur.words) > 0 {
				at += space
			}
			cur.words, at = append(cur.words, w), at+w.width
		}
	}
	if len(cur.words) > 0 {
		out = append(out, cur)
	}
	return out
}

// splitWords splits text at ordinary spaces, so that a number stays with its unit and a weekday with its time.
func splitWords(s string) []string {
	return strings.FieldsFunc(s, func(r rune) bool { return r == ' ' })
}

// breakWord breaks a word that is wider than a line.
func (d *doc) breakWord(s string, width float64) []string {
	if d.widthOf(s) <= width {
		return []string{s}
	}
	var out []string
	var cur []rune
	for _, r := range s {
		if len(cur) > 0 && d.widthOf(string(cur)+string(r)) > width {
			out, cur = append(out, string(cur)), nil
		}
		cur = append(cur, r)
	}
	return append(out, string(cur))
}

// line writes a line from x on a baseline at y.
func (d *doc) line(x, y float64, l line) {
	for _, w := range l.words {
		d.font(w.style, w.pt)
		d.text(x, y, w.text)
		x += w.width + l.space
	}
}
