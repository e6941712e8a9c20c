package facts

import (
	"slices"
	"strings"

	"hotday/models"
)

// discarded is the code of the beverage that a discard task throws away; "" if unknown.
//
// Sheets published before tasks had a beverage name it only in the text of the task, before a colon, if it is not left over from one of
// their batches. Reviews look back half a year, so those sheets are still read; their texts are in English, the only language there was.
func discarded(beverages []models.Beverage, t *models.Task) string {
	if t.Beverage != "" {
		return t.Beverage
	}
	i := slices.IndexFunc(beverages, func(b models.Beverage) bool {
		return b.Name != "" && strings.HasPrefix(t.Say, b.Name+":") || strings.HasPrefix(t.Say, b.Code+":")
	})
	if i < 0 {
		return ""
	}
	return beverages[i].Code
}
