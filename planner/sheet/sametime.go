package sheet

import (
	"cmp"
	"slices"

	"hotday/models"
)

// SameTime reports whether two people can do two tasks of a sheet at the same time, each on their own: neither takes two people, they are
// not steps of one batch, they need different equipment, and neither prepares the other. Tasks that the sheet itself has at the same time
// don't prepare each other.
func SameTime(a, b *models.Task) bool {
	if a.At.After(b.At) {
		a, b = b, a
	}
	switch {
	case a.ID == b.ID, max(a.Hands, 1)+max(b.Hands, 1) > 2, a.Kind == models.TaskHandover, b.Kind == models.TaskHandover:
		return false
	case cmp.Or(a.PartOf, a.ID) == cmp.Or(b.PartOf, b.ID), a.Station == b.Station:
		return false
	case a.Batch != nil && b.Batch != nil && a.Batch.ID == b.Batch.ID:
		return false
	case a.Choice != nil && b.Beverage == a.Beverage, b.Choice != nil && a.Beverage == b.Beverage: // the look decides
		return false
	}
	return b.At.Before(a.Until) || !prepares(a, b)
}

// prepares reports whether a task may be needed before a later one: what it gets out, fills, mixes or empties.
func prepares(first, later *models.Task) bool {
	switch first.Kind {
	case models.TaskPull:
		return slices.ContainsFunc(later.Lots, func(l models.LotUse) bool {
			return slices.ContainsFunc(first.Pulls, func(p models.BeanPull) bool { return p.Lot == l.Lot })
		})
	case models.TaskMix:
		return later.Kind == models.TaskWaterDraw
	case models.TaskWaterDraw, models.TaskIceTake, models.TaskIceRefill:
		return later.Batch != nil || later.Well != nil
	}
	return false
}
