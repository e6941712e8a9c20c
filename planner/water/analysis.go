package water

import (
	"math"

	"hotday/models"
)

// IonsOf reads the ions of a water analysis, mg/L; chloride and sulphate that were not measured are NaN.
func IonsOf(m models.Ions) Ions {
	w := Ions{Ca: m.CaMgL, Mg: m.MgMgL, Na: m.NaMgL, K: m.KMgL, HCO3: m.HCO3MgL, Cl: math.NaN(), SO4: math.NaN()}
	if m.ClMgL != nil {
		w.Cl = *m.ClMgL
	}
	if m.SO4MgL != nil {
		w.SO4 = *m.SO4MgL
	}
	return w
}
