package learnt

import (
	"math/rand/v2"
	"testing"
)

func BenchmarkIceFit(b *testing.B) {
	s := inventedIce(rand.New(rand.NewPCG(3, 9)), iceTruth{output: 0.8, loss: 1, served: 1, days: 21, looks: 4})
	for b.Loop() {
		s.Fit()
	}
}
