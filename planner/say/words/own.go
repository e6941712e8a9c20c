package words

import "embed"

//go:embed en
var own embed.FS

var planners = func() *Languages {
	l, err := Load(own)
	if err != nil {
		panic(err) // an embedded file that cannot be read is a mistake in it; a test reads them all
	}
	return l
}()

// In returns the planner's own texts in a language: dates, and the sentences of sheets and warnings.
func In(lang string) *Catalogue { return planners.For(lang) }
