package calc

import (
	"strings"

	"hotday/models"
	"hotday/planner/say"
	"hotday/planner/say/words"
)

// About describes a kind of calculation in a line; "" for a kind that does not exist.
func About(kind string) string {
	if _, ok := calculations[kind]; !ok {
		return ""
	}
	return say.In(words.English).Say("calc.about." + kind)
}

// NoCalculation is the CodeNotFound error for a kind that does not exist. It names the closest kind and all there are.
func NoCalculation(kind string) error {
	all := strings.Join(Kinds(), ", ")
	if near := nearestWord(kind, Kinds()); near != "" {
		return models.Errorf(models.CodeNotFound, "there is no calculation %q; did you mean %q? There are %s", kind, near, all)
	}
	return models.Errorf(models.CodeNotFound, "there is no calculation %q; there are %s", kind, all)
}

// nearestWord returns the word with the smallest edit distance, the first of equals; "" if that is more than a third of the letters.
func nearestWord(word string, words []string) string {
	best, least := "", 1+len(word)/3
	for _, w := range words {
		if n := editDistance(word, w); n <= least {
			if n < least || best == "" {
				best = w
			}
			least = n
		}
	}
	return best
}

// editDistance is the Levenshtein distance: the letters to insert, delete or replace to turn a into b.
func editDistance(a, b string) int {
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
