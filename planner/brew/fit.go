package brew

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Measured is a brew with its masses weighed and its strength measured.
type Measured struct{ DoseG, WaterG, BeverageG, TDSPct float64 }

// Estimate is a fitted value with its standard error and the half-width of its 95 % confidence interval (Student's t, n − 1
// degrees of freedom).
type Estimate struct{ Value, SE, HalfWidth95 float64 }

// Fitted holds the parameters of a coffee, fitted to measured brews.
type Fitted struct {
	MaxYieldPct   Estimate
	RetainedRatio Estimate
	Brews         int
}

// ErrTooFewBrews is returned by Fit for fewer than two brews.
var ErrTooFewBrews = errors.New("two measured brews are needed at least")

// BrewError reports a physically impossible brew by its index in the list.
type BrewError struct {
	Index  int
	Detail string
}

func (e *BrewError) Error() string { return fmt.Sprintf("brew %d: %s", e.Index+1, e.Detail) }

// Fit estimates S and A by least squares. Strength gives the total liquid, M = W/(1 − TDS), hence the dissolved coffee,
// TDS·M = S·d, and with the beverage mass the retained liquid, M − B = A·d. Both are lines through the origin in the dose,
// weighted by 1/d² because errors grow with the brew, which makes each estimate a plain mean over the brews. Errors:
// ErrTooFewBrews for fewer than two brews, *BrewError for an impossible one.
func Fit(brews []Measured) (Fitted, error) {
	if len(brews) < 2 {
		return Fitted{}, ErrTooFewBrews
	}
	s, a := make([]float64, len(brews)), make([]float64, len(brews))
	for i, b := range brews {
		if !(b.DoseG > 0) || !(b.WaterG > 0) || !(b.BeverageG > 0) || !(b.TDSPct > 0) || !(b.TDSPct < 100) {
			return Fitted{}, &BrewError{i, "every number must be above 0"}
		}
		m := LiquidFrom(b.WaterG, b.TDSPct)
		s[i], a[i] = b.TDSPct*m/b.DoseG, (m-b.BeverageG)/b.DoseG
		switch {
		case a[i] < 0:
			return Fitted{}, &BrewError{i, "more beverage ran off than water and dissolved coffee make"}
		case s[i] > 100:
			return Fitted{}, &BrewError{i, "more coffee is dissolved than was dosed"}
		}
	}
	return Fitted{MaxYieldPct: estimate(s), RetainedRatio: estimate(a), Brews: len(brews)}, nil
}

func estimate(x []float64) Estimate {
	mean, sd := stat.MeanStdDev(x, nil)
	n := float64(len(x))
	se := sd / math.Sqrt(n)
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 1}.Quantile(0.975)
	return Estimate{Value: mean, SE: se, HalfWidth95: t * se}
}

// LiquidFrom is the total liquid, g, of a brew of waterG g of water with measured strength: M = W/(1 − TDS).
func LiquidFrom(waterG, tdsPct float64) float64 { return waterG / (1 - tdsPct/100) }
