package demand

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strconv"
)

// Scores are standard normal draws for n simulated days, one stream a key. The draws of a key depend on the seed, n and the
// key alone: a changed request keeps the random numbers of everything that it did not change (common random numbers), and the
// order of the rows does not matter. Each stream is spread evenly: n levels in the middle of n equal steps, shuffled.
type Scores struct {
	seed uint64
	even []float64
}

// NewScores prepares n ≥ 1 days.
func NewScores(seed int64, n int) *Scores {
	n = max(n, 1)
	even := make([]float64, n)
	for i := range even {
		even[i] = score((float64(i) + 0.5) / float64(n))
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

// DrawDays returns the scores of something that has one value a service day, 0 … days−1, each row Days long; next is the
// correlation of one with the following.
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
