package demand

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strconv"
)

// Scores are standard normal draws for n simulated days, one stream per key. A stream depends only on the seed, n and its key,
// not on the order of drawing: a changed request keeps the random numbers of everything that it did not change (common random
// numbers). Each stream is stratified: the midpoints of n equal probability intervals, shuffled.
type Scores struct {
	seed uint64
	even []float64
}

// NewScores prepares n days; n below 1 counts as 1.
func NewScores(seed int64, n int) *Scores {
	n = max(n, 1)
	even := make([]float64, n)
	for i := range even {
		even[i] = normalQuantile((float64(i) + 0.5) / float64(n))
	}
	return &Scores{seed: uint64(seed), even: even}
}

// Days returns the number of simulated days.
func (s *Scores) Days() int { return len(s.even) }

// Draw fills dst, of length Days, with the stream of a key.
func (s *Scores) Draw(key string, dst []float64) {
	h := fnv.New64a()
	h.Write([]byte(key))
	rng := rand.New(rand.NewPCG(s.seed, h.Sum64()))
	copy(dst, s.even)
	for i := len(dst) - 1; i > 0; i-- {
		j := rng.IntN(i + 1)
		dst[i], dst[j] = dst[j], dst[i]
	}
}

// DrawDays returns days rows of length Days, the scores of a quantity that has one value per service day: a first-order
// autoregression in which next is the correlation of consecutive days.
func (s *Scores) DrawDays(key string, days int, next float64) [][]float64 {
	out := make([][]float64, days)
	next = clamp01(next)
	own := math.Sqrt(1 - next*next)
	for d := range out {
		out[d] = make([]float64, s.Days())
		s.Draw(key+"|"+strconv.Itoa(d), out[d])
		if d == 0 || next == 0 {
			continue
		}
		for i := range out[d] {
			out[d][i] = next*out[d-1][i] + own*out[d][i]
		}
	}
	return out
}
