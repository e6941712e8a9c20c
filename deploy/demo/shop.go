package demo

import (
	"time"

	"hotday/models"
)

// Shop is the invented shop alone, its bean lots around now: for a new shop to be copied from. Of what it holds only the shape is
// of use to another shop.
func Shop(now time.Time) models.Setup {
	s, err := At(now)
	if err != nil {
		panic(err) // the embedded document cannot be read: a test of the demo reads it
	}
	return s.Setup
}
