package paper

import (
	"slices"

	"hotday/models"
)

// caution is a caution to print. Its key is its code; cautions of sheets stored before there were codes have their text as the key.
type caution struct{ key, text string }

// cautionList is cautions without repetition.
type cautionList []caution

// index is the place of a caution in the list, −1 where it is not in it.
func (l cautionList) index(c caution) int {
	return slices.IndexFunc(l, func(x caution) bool { return x.key == c.key })
}

// has reports whether the list has a caution.
func (l cautionList) has(c caution) bool { return l.index(c) >= 0 }

// add appends the cautions that the list does not have yet.
func (l *cautionList) add(more ...caution) {
	for _, c := range more {
		if !l.has(c) {
			*l = append(*l, c)
		}
	}
}

// ofTask returns the cautions of a task one by one: the text of a task has them all in one.
func (d *doc) ofTask(t *models.Task) []caution {
	if t.Caution == "" {
		return nil
	}
	if len(t.CautionCodes) == 0 {
		return []caution{{t.Caution, t.Caution}}
	}
	var out []caution
	for _, code := range t.CautionCodes {
		out = append(out, caution{string(code), d.Caution(code)})
	}
	return out
}

// ofSheet returns the cautions of a sheet as a whole.
func ofSheet(s *models.PrepSheet) []caution {
	var out []caution
	for i, text := range s.Cautions {
		c := caution{text, text}
		if i < len(s.CautionCodes) {
			c.key = string(s.CautionCodes[i])
		}
		out = append(out, c)
	}
	return out
}
