package demo

import (
	"time"

	"hotday/models"
)

// Shop returns the invented shop's set-up, its bean lots dated around now, as a template for a new shop. Only its structure is
// worth copying, not its stock.
func Shop(now time.Time) models.Setup {
	s, err := At(now)
	if err != nil {
		panic(err) // the embedded document is broken; the demo's tests decode it
	}
	return s.Setup
}
