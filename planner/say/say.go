// Package say turns the planner's numbers and codes into text for people: quantities, temperatures, times and money in the units, the
// clock and the language of a site (Writer), and the sentences of a catalogue that hold them (Voice). It also reads quantities that
// people type (reader.go). Whatever is stored or computed stays in g, L, °C, UTC and minor units of money.
//
// Package say only words. Which caution, cause or fix applies is decided where the fact is known and arrives here as a code or a
// number; no code may read a fact back out of a text, since the text depends on the language. words.Keys is a language for tests of
// that: every text is its own key.
package say

import (
	"time"

	"hotday/models"
	"hotday/planner/say/words"
)

// Voice says the planner's sentences in the language of a site, with the quantities and times of its Writer.
type Voice struct {
	*words.Catalogue
	Writer
}

// For returns the voice of a site.
func For(s models.Site) Voice { return Voice{words.In(s.Language), WriterFor(s)} }

// In returns the voice for calculations and texts that belong to no site: metric units, 24 h clock, UTC, and the language that fits
// best: a BCP 47 tag or an Accept-Language list, English if none fits.
func In(languages string) Voice {
	w := Metric(time.UTC)
	w.words = words.In(languages)
	return Voice{w.words, w}
}
