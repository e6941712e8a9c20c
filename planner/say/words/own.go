package words

import "embed"

//go:embed en de
var own embed.FS

var planners = func() *Languages {
	l, err := Load(own)
	if err != nil {
		panic(err) // the files are embedded, and tests read them all
	}
	return l
}()

// In returns the planner's texts in a language: dates, sheets, warnings, plans and paper.
func In(lang string) *Catalogue { return planners.For(lang) }
