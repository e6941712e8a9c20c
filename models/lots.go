package models

import "strings"

// lotSeparator separates the codes of lots in BatchTask.CoffeeLot.
const lotSeparator = "+"

// CoffeeLot is the value of BatchTask.CoffeeLot for the lots of a batch.
func CoffeeLot(lots []LotUse) string {
	codes := make([]string, 0, len(lots))
	for _, l := range lots {
		codes = append(codes, l.Lot)
	}
	return strings.Join(codes, lotSeparator)
}
