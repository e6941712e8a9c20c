package paper

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
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
		if numberPt != pt && numeric(text) {
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

// splitWords splits text at spaces, except narrow ones (between a number and its unit) and those between a weekday and its time.
func splitWords(s string) []string {
	var out []string
	for _, w := range strings.FieldsFunc(s, func(r rune) bool { return r == ' ' }) {
		if n := len(out); n > 0 && numeric(w) && slices.Contains(weekdays, out[n-1]) {
			out[n-1] += "\u00a0" + w
			continue
		}
		out = append(out, w)
	}
	return out
}

var weekdays = []string{"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"}

// numeric reports whether a word starts with a number, after a sign, bracket or weekday: "4 670 g", "−3", "Sat 07:30"; the name of
// a salt does not.
func numeric(w string) bool {
	if day, rest, ok := strings.Cut(w, "\u00a0"); ok && slices.Contains(weekdays, day) {
		w = rest
	}
	r, n := utf8.DecodeRuneInString(w)
	if strings.ContainsRune("−-+(", r) {
		r, _ = utf8.DecodeRuneInString(w[n:])
	}
	return unicode.IsDigit(r)
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

// sentences splits text into sentences.
func sentences(s string) []string {
	var out []string
	for {
		at := strings.Index(s, ". ")
		if at < 0 {
			break
		}
		out, s = append(out, s[:at+1]), strings.TrimSpace(s[at+2:])
	}
	if s != "" {
		out = append(out, s)
	}
	return out
}

// newSentences returns the sentences of text that are not in seen, and adds them to it.
func newSentences(seen *[]string, text string) []string {
	var out []string
	for _, s := range sentences(text) {
		if !slices.Contains(*seen, s) {
			*seen, out = append(*seen, s), append(out, s)
		}
	}
	return out
}
