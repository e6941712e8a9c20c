package forecast

import (
	"math"
	"math/rand/v2"
	"slices"
)

// forest is a quantile forest of one series: each tree sorts the days of the past into small groups of like days; a coming day
// takes its distribution from the days it shares groups with.
type forest struct {
	bins    *bins
	trees   []tree
	groups  [][][]int32 // by tree and leaf value: ranks of days in order of demand
	sorted  []float64   // demand, rising
	columns []int
	withLog bool
}

// Settings of a forest.
const (
	groupSize  = 5   // fewest days of a leaf
	mayTry     = 0.4 // of the features at each split
	fewestDays = 4 * groupSize
)

var forestColumns = []int{fWeekday, fWeekend, fFriday, fSin1, fCos1, fSin2, fCos2, fTemp, fRain, fHum, fHoliday, fBefore, fAfter, fTrend, fM28, fSame1}
var forestMore = []int{fR7, fR4, fSame8}

func (fo *forest) rowOf(f []float64, mean float64, dst []float64) []float64 {
	dst = dst[:0]
	for _, c := range fo.columns {
		dst = append(dst, f[c])
	}
	if fo.withLog {
		dst = append(dst, math.Log(math.Max(mean, 1e-6)))
	}
	return dst
}

// fitForest grows trees on bootstrap samples of a series' days. With a lead, the regression's mean of each day is one more
// feature; without (nil), the forest stands on its own.
func fitForest(m *sample, lead func(row int) float64, trees int, chance *rand.Rand) *forest {
	fo := &forest{columns: forestColumns, withLog: lead != nil}
	if lead != nil {
		fo.columns = slices.Concat(forestColumns, forestMore)
	}
	n := m.rows()
	if n < fewestDays {
		return fo
	}
	width := len(fo.columns) + int(flag(fo.withLog))
	x := make([]float64, 0, n*width)
	buf := make([]float64, 0, width)
	for i := range n {
		mean := 0.0
		if lead != nil {
			mean = lead(i)
		}
		x = append(x, fo.rowOf(m.row(i), mean, buf)...)
	}
	fo.bins = cut(x, width)
	columns := fo.bins.columns(x)
	order := make([]int32, n)
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortStableFunc(order, func(a, b int32) int { return int(flag(m.y[a] > m.y[b])) - int(flag(m.y[a] < m.y[b])) })
	rank := make([]int32, n)
	fo.sorted = make([]float64, n)
	for k, i := range order {
		rank[i], fo.sorted[k] = int32(k), m.y[i]
	}
	gr := &forestGrower{columns: columns, y: m.y, rows: make([]int32, n), scratch: make([]int32, n), features: make([]int32, width),
		tries: max(1, int(mayTry*float64(width))), chance: chance}
	q := make([]uint8, width)
	for range trees {
		t, leaves := gr.grow()
		groups := make([][]int32, leaves)
		flat := make([]int32, n)
		leafOf := make([]int32, n)
		size := make([]int32, leaves)
		for i := range n {
			for f := range width {
				q[f] = columns[f][i]
			}
			leafOf[i] = int32(t.value(q))
			size[leafOf[i]]++
		}
		from := int32(0)
		for l := range groups {
			groups[l] = flat[from : from : from+size[l]]
			from += size[l]
		}
		for i := range n {
			groups[leafOf[i]] = append(groups[leafOf[i]], rank[i])
		}
		fo.trees, fo.groups = append(fo.trees, t), append(fo.groups, groups)
	}
	return fo
}

// quantiles writes the forest's quantiles at the rising levels into dst and reports whether it knows enough to.
func (fo *forest) quantiles(f []float64, mean float64, levels, dst []float64) bool {
	if len(fo.trees) == 0 {
		return false
	}
	row := fo.rowOf(f, mean, make([]float64, 0, len(fo.bins.cuts)))
	q := make([]uint8, len(row))
	for k, x := range row {
		q[k] = fo.bins.of(k, x)
	}
	weight := make([]float64, len(fo.sorted))
	total := 0.0
	for t := range fo.trees {
		group := fo.groups[t][int(fo.trees[t].value(q))]
		if len(group) == 0 {
			continue
		}
		share := 1 / float64(len(group))
		for _, r := range group {
			weight[r] += share
		}
		total++
	}
	if total == 0 {
		return false
	}
	quantilesOfWeighted(fo.sorted, weight, total, levels, dst)
	return true
}

// quantilesOfWeighted reads quantiles off rising values with weights: a value stands at the middle of its weight, linear between.
func quantilesOfWeighted(sorted, weight []float64, total float64, levels, dst []float64) {
	k, below := 0, 0.0
	lastAt, lastValue := -1.0, sorted[0]
	for i, w := range weight {
		if w == 0 {
			continue
		}
		middle := (below + w/2) / total
		for k < len(levels) && levels[k] <= middle {
			if lastAt < 0 {
				dst[k] = sorted[i]
			} else {
				dst[k] = lastValue + (sorted[i]-lastValue)*(levels[k]-lastAt)/(middle-lastAt)
			}
			k++
		}
		below += w
		lastAt, lastValue = middle, sorted[i]
	}
	for ; k < len(levels); k++ {
		dst[k] = lastValue
	}
}

// forestGrower grows trees to the end by the variance that a split removes.
type forestGrower struct {
	columns  [][]uint8
	y        []float64
	rows     []int32
	scratch  []int32
	features []int32
	tries    int
	chance   *rand.Rand
	t        tree
	leaves   int
	sum      [maxBins]float64
	n        [maxBins]int32
}

// grow returns a tree whose leaves are numbered by their value, and how many there are.
func (gr *forestGrower) grow() (tree, int) {
	for i := range gr.rows {
		gr.rows[i] = int32(gr.chance.IntN(len(gr.rows)))
	}
	for i := range gr.features {
		gr.features[i] = int32(i)
	}
	gr.t, gr.leaves = tree{nodes: make([]node, 1, len(gr.rows)/2)}, 0
	gr.t.nodes[0] = node{feature: -1}
	gr.part(0, 0, len(gr.rows))
	return gr.t, gr.leaves
}

func (gr *forestGrower) part(at int32, from, to int) {
	f, bin, ok := gr.best(from, to)
	if !ok {
		gr.t.nodes[at].value = float64(gr.leaves)
		gr.leaves++
		return
	}
	col := gr.columns[f]
	mid, k := from, 0
	for _, r := range gr.rows[from:to] {
		if col[r] <= bin {
			gr.rows[mid] = r
			mid++
		} else {
			gr.scratch[k] = r
			k++
		}
	}
	copy(gr.rows[mid:to], gr.scratch[:k])
	left := int32(len(gr.t.nodes))
	gr.t.nodes = append(gr.t.nodes, node{feature: -1}, node{feature: -1})
	p := &gr.t.nodes[at]
	p.feature, p.bin, p.left, p.right = f, bin, left, left+1
	gr.part(left, from, mid)
	gr.part(left+1, mid, to)
}

func (gr *forestGrower) best(from, to int) (feature int32, bin uint8, ok bool) {
	n := to - from
	if n < 2*groupSize {
		return 0, 0, false
	}
	rows := gr.rows[from:to]
	total := 0.0
	for _, r := range rows {
		total += gr.y[r]
	}
	gain := total * total / float64(n) * (1 + 1e-12)
	for k := range gr.tries {
		j := k + gr.chance.IntN(len(gr.features)-k)
		gr.features[k], gr.features[j] = gr.features[j], gr.features[k]
		f := gr.features[k]
		col := gr.columns[f]
		lo, hi := uint8(maxBins-1), uint8(0)
		for _, r := range rows {
			b := col[r]
			gr.sum[b] += gr.y[r]
			gr.n[b]++
			lo, hi = min(lo, b), max(hi, b)
		}
		s, c := 0.0, int32(0)
		for b := int(lo); b <= int(hi); b++ {
			if gr.n[b] == 0 {
				continue
			}
			s, c = s+gr.sum[b], c+gr.n[b]
			gr.sum[b], gr.n[b] = 0, 0
			rest := int32(n) - c
			if c < groupSize || rest < groupSize {
				continue
			}
			if got := s*s/float64(c) + (total-s)*(total-s)/float64(rest); got > gain {
				gain, feature, bin, ok = got, f, uint8(b), true
			}
		}
	}
	return feature, bin, ok
}
