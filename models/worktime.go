package models

// DefaultWorkMin is the work of each kind where a site states none, min: the defaults of WorkMin's fields.
func DefaultWorkMin() WorkMin {
	return WorkMin{Brew: 5, BathFlash: 4, BathChilled: 8, Store: 5, Tray: 5, Strain: 12, StrainTakes: 40, Fill: 5, Get: 2, Count: 5}
}

// Work is the site's time for each kind of work, min.
func (s *Site) Work() WorkMin {
	if s.WorkMin != nil {
		return *s.WorkMin
	}
	return DefaultWorkMin()
}

// Chill is how long chilling a batch keeps hands busy, min: in an ice bath, with ice stirred in, or put aside to cool by itself.
func (w WorkMin) Chill(bath, ice bool) float64 {
	switch {
	case ice:
		return w.BathFlash
	case bath:
		return w.BathChilled
	}
	return w.Get
}
