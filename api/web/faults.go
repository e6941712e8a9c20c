package web

import (
	"errors"
	"slices"
	"strconv"
	"strings"

	"hotday/models"
	"hotday/planner/say/words"
)

// trouble words an error for a person, by its code alone. The API's message stays in the API.
func trouble(c *words.Catalogue, err error) string {
	code := models.CodeOf(err)
	if code == models.CodeNeedsMatch {
		code = models.CodePrecondition // for a person it is the same: open the page again
	}
	return c.Say("problem." + string(code))
}

// troubles words an error for a person: a sentence for each field at fault that has words of its own, or one for the error's code. The
// scripts do the same with the same texts (page.js).
func troubles(c *words.Catalogue, err error) (out []string) {
	var e *models.Error
	if errors.As(err, &e) {
		for _, f := range e.Fields {
			key := "problem.at." + lastName(f.Pointer)
			if c.Has(key) && !slices.Contains(out, c.Say(key)) {
				out = append(out, c.Say(key))
			}
		}
	}
	if len(out) == 0 {
		out = append(out, trouble(c, err))
	}
	return out
}

// lastName is the last name of a pointer that is not an index: "/scopes/0" becomes "scopes".
func lastName(pointer string) string {
	names := strings.Split(pathOf(pointer), ".")
	return names[len(names)-1]
}

// pathOf is the path of a pointer: "/brewers/0/sizes_g/1" becomes "brewers.sizes_g".
func pathOf(pointer string) string {
	names := strings.Split(strings.Trim(pointer, "/"), "/")
	return strings.Join(slices.DeleteFunc(names, func(name string) bool { _, err := strconv.Atoi(name); return err == nil }), ".")
}
