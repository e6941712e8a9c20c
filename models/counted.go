package models

import "slices"

// Counted names one thing of a stock count: Kind ice, plain_ice or tank, or a beverage or lot with its Code.
type Counted struct {
	Kind, Code string
}

// CountedKinds are the kinds of thing in a stock count.
var CountedKinds = []string{"ice", "plain_ice", "tank", "beverage", "lot"}

// Empty reports whether a count counted nothing.
func (c StockCount) Empty() bool {
	return c.IceG == nil && c.PlainIceG == nil && c.TankL == nil && len(c.Beverages) == 0 && len(c.Lots) == 0
}

// Without returns a count without one thing, a beverage with all its batches, and whether it was in the count.
func (c StockCount) Without(x Counted) (rest StockCount, had bool) {
	switch x.Kind {
	case "ice":
		had, c.IceG = c.IceG != nil, nil
	case "plain_ice":
		had, c.PlainIceG = c.PlainIceG != nil, nil
	case "tank":
		had, c.TankL = c.TankL != nil, nil
	case "beverage":
		n := len(c.Beverages)
		c.Beverages = slices.DeleteFunc(slices.Clone(c.Beverages), func(s Stock) bool { return s.Beverage == x.Code })
		had = len(c.Beverages) < n
	case "lot":
		n := len(c.Lots)
		c.Lots = slices.DeleteFunc(slices.Clone(c.Lots), func(l LotCount) bool { return l.Lot == x.Code })
		had = len(c.Lots) < n
	}
	return c, had
}
