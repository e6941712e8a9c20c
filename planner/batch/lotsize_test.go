package batch

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// Example of Wagner & Whitin, Management Science 5 (1958): minimum cost 864 (from memory).
var (
	wagnerWhitinDemand = []float64{69, 29, 36, 61, 61, 26, 34, 67, 45, 67, 79, 56}
	wagnerWhitinSetup  = []float64{85, 102, 102, 101, 98, 114, 105, 86, 119, 110, 98, 114}
)

const wagnerWhitinCost = 864

func TestLotSizeMatchesWagnerWhitin(t *testing.T) {
	t.Parallel()
	holding := make([]float64, 12)
	for i := range holding {
		holding[i] = 1
	}
	cost, setups, err := LotSize(wagnerWhitinDemand, wagnerWhitinSetup, holding)
	require.NoError(t, err)
	assert.Equal(t, float64(wagnerWhitinCost), cost)
	assert.Equal(t, 0, setups[0])
	assert.Equal(t, cost, lotSizeCost(wagnerWhitinDemand, wagnerWhitinSetup, holding, setups))
}

// lotSizeCost is the cost of given set-ups, summed by period.
func lotSizeCost(demand, setup, holding []float64, setups []int) float64 {
	cost := 0.0
	for k, s := range setups {
		end := len(demand)
		if k+1 < len(setups) {
			end = setups[k+1]
		}
		cost += setup[s]
		for t := s; t < end; t++ {
			for j := s; j < t; j++ {
				cost += holding[j] * demand[t]
			}
		}
	}
	return cost
}

func TestLotSizeNeedsNoSetupWithoutDemand(t *testing.T) {
	t.Parallel()
	cost, setups, err := LotSize([]float64{0, 0, 5, 0}, []float64{1, 1, 9, 1}, []float64{0, 0, 0})
	require.NoError(t, err)
	assert.Equal(t, 1.0, cost)
	assert.Len(t, setups, 1)
}

func TestLotSizeNamesBadFields(t *testing.T) {
	t.Parallel()
	_, _, err := LotSize([]float64{1, -2}, []float64{1}, []float64{1, 1})
	require.Equal(t, models.CodeInvalid, models.CodeOf(err))
	assert.ErrorContains(t, err, "/setup")
	assert.ErrorContains(t, err, "/demand/1")
}
