package planner

import (
	"pgregory.net/rapid"

	"hotday/planner/audit/shops"
)

// The requests of property tests are those of package shops.
var (
	anyRequest  = shops.Plain
	anyUnderWay = shops.AnyUnderWay
	partOf      = shops.PartOf
	number      = shops.Number
	chance      = shops.Chance
)

func oneOf[T any](t *rapid.T, name string, xs ...T) T { return shops.OneOf(t, name, xs...) }
