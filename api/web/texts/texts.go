// Package texts holds what the pages say, in each language that somebody has written: a folder per language, a file per page.
package texts

import (
	"embed"

	"hotday/planner/say/words"
)

//go:embed en
var files embed.FS

var all = func() *words.Languages {
	l, err := words.Load(files)
	if err != nil {
		panic(err) // an embedded file that cannot be read is a mistake in it; a test reads them all
	}
	return l
}()

// For returns the pages' texts in a language, or in a list of them as a browser sends it; English where it is not there.
func For(lang string) *words.Catalogue { return all.For(lang) }

// Files are the texts as they were written.
func Files() embed.FS { return files }

// Languages returns every catalogue, English first.
func Languages() []*words.Catalogue { return all.All() }
