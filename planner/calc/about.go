package calc

import (
	"strings"

	"hotday/models"
)

// calcAbout says in a line what each calculation answers.
var calcAbout = map[string]string{
	"extraction": "strength and yield of a brew, from its weights or a measured strength",
	"fit":        "what a coffee keeps and gives, from measured brews",
	"ratio":      "the ratio at which a recipe ends at a wished strength",
	"scale":      "a dialled recipe made into batches that fit a brewer",
	"chill":      "how much ice brings a drink to a temperature, or how cold given ice makes it",
	"ice-split":  "a flash recipe: brew water, ice, and what must cool first",
	"cool-time":  "minutes until a vessel is as cold as it should be",
	"glass":      "the first and the last sip of a drink over ice",
	"freeze":     "minutes until a mould is frozen, and kg a day",
	"ice-store":  "what a bin loses over hours",
	"maker":      "what an ice maker yields in this heat",
	"water":      "salts for treated water, and the water that results",
	"lsi":        "whether water scales or corrodes",
	"heat-index": "how hot it feels",
	"batches":    "the best batches for given needs, with a bound",
	"lot-size":   "when to make and how much, for one item without limits",
	"forecast":   "ranges of demand from history and weather",
}

// CalcAbout says in a line what a calculation answers; "" for a kind that does not exist.
func CalcAbout(kind string) string { return calcAbout[kind] }

// NoCalculation is the error for a kind that does not exist: it names the nearest one, and all there are.
func NoCalculation(kind string) error {
	hint := ""
	if near := nearestWord(kind, CalcKinds()); near != "" {
		hint = "; did you mean \"" + near + "\"?"
	}
	return models.Errorf(models.CodeNotFound, "there is no calculation %q%s; there are %s", kind, hint, strings.Join(CalcKinds(), ", "))
}

// nearestWord is the word that takes the fewest letters to change, "" where that is more than a third of them.
func nearestWord(word string, words []string) string {
	best, least := "", 1+len(word)/3
	for _, w := range words {
		if n := letters(word, w); n <= least {
			if n < least || best == "" {
				best = w
			}
			least = n
		}
	}
	return best
}

// letters is how many must be added, taken out or changed to make b of a (Levenshtein).
func letters(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
