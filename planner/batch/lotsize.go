package batch

import (
	"fmt"
	"math"
)

// LotSize solves the single-item uncapacitated lot-sizing problem (Wagner & Whitin, Management Science 5 (1958)), given demand,
// set-up cost and holding cost per unit to the next period, by period. It returns the minimum cost and the periods with a
// set-up, from 0. holding may be one shorter than demand, as nothing is held after the last period. Bad input is a *models.Error
// of CodeInvalid.
func LotSize(demand, setup, holding []float64) (objective float64, setups []int, err error) {
	if err := checkLotSize(demand, setup, holding); err != nil {
		return 0, nil, err
	}
	n := len(demand)
	best := make([]float64, n+1) // best[t]: minimum cost of the periods before t
	from := make([]int, n+1)     // from[t]: the set-up that serves period t-1, -1 for none
	for t := 1; t <= n; t++ {
		best[t], from[t] = math.Inf(1), -1
		if demand[t-1] == 0 {
			best[t] = best[t-1]
		}
		kept, later := 0.0, 0.0 // holding cost and units of periods j+1..t-1 if made in period j
		for j := t - 1; j >= 0; j-- {
			if j < t-1 {
				later += demand[j+1]
				kept += holding[j] * later
			}
			if c := best[j] + setup[j] + kept; c < best[t] {
				best[t], from[t] = c, j
			}
		}
	}
	setups = []int{}
	for t := n; t > 0; {
		if j := from[t]; j >= 0 {
			setups = append([]int{j}, setups...)
			t = j
		} else {
			t--
		}
	}
	return best[n], setups, nil
}

func checkLotSize(demand, setup, holding []float64) error {
	v := &validation{}
	n := len(demand)
	v.length("/demand", n, 1, maxSlots)
	if len(setup) != n {
		v.add("/setup", fmt.Sprintf("a list of %d numbers, one for each period of demand", n), "has %d", len(setup))
	}
	if len(holding) != n && len(holding) != n-1 {
		v.add("/holding", fmt.Sprintf("a list of %d numbers, one for each period of demand (the last may be left out)", n), "has %d", len(holding))
	}
	for _, s := range []struct {
		name string
		xs   []float64
	}{{"demand", demand}, {"setup", setup}, {"holding", holding}} {
		for t, x := range s.xs {
			if !v.number(fmt.Sprintf("/%s/%d", s.name, t), x, maxGrams) {
				break
			}
		}
	}
	return v.err()
}
