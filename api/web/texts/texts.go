// Package texts has the texts of the pages: a folder per language, a file per page.
package texts

import (
	"embed"

	"hotday/planner/say/words"
)

//go:embed en de
var files embed.FS

var all = func() *words.Languages {
	l, err := words.Load(files)
	if err != nil {
		panic(err) // an invalid embedded file; a test loads them all
	}
	return l
}()

// For returns the texts in a language, or in the best match of an Accept-Language list; English if there is none.
func For(lang string) *words.Catalogue { return all.For(lang) }

// Files returns the embedded files.
func Files() embed.FS { return files }

// Languages returns all catalogues, English first.
func Languages() []*words.Catalogue { return all.All() }
