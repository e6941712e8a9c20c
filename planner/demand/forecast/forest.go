package forecast

import (
	"math"
	"math/rand/v2"
	"slices"
)

// forest is a quantile regression forest of one series: each tree partitions the past days into small leaves, and a new day's
// distribution is that of the days it shares leaves with.
type forest struct {
	Led    bool // stacked: the regression's mean is among its features
	Bins   *bins
	Trees  []tree    // the value of a leaf is its number
	Groups []ranks   // by tree: the offset of each leaf's days, then the ranks of the days by demand, leaf by leaf
	Sorted []float32 // demand in ascending order

	columns [][]uint8 // the days in bins, by feature; nil if read from a state of version 6 or before
	demand  []float32 // of the days
}

// Hyperparameters.
const (
	minLeafDays   = 5   // fewest days of a leaf
	featureShare  = 0.4 // of the features tried at each split
	minForestDays = 4 * minLeafDays
	maxForestDays = 20_000 // the newest; days and nodes have 16-bit numbers
)

var (
	forestColumns  = []int{fWeekday, fWeekend, fFriday, fSin1, fCos1, fSin2, fCos2, fTemp, fRain, fHum, fHoliday, fHolidayBefore, fHolidayAfter, fTrend, fM28, fSame1}
	stackedColumns = slices.Concat(forestColumns, []int{fR7, fR4, fSame8})
)

func forestRow[F float32 | float64](f []F, stacked bool, mean float64, dst []float64) []float64 {
	columns := forestColumns
	if stacked {
		columns = stackedColumns
	}
	for _, c := range columns {
		dst = append(dst, float64(f[c]))
	}
	if stacked {
		dst = append(dst, math.Log(math.Max(mean, 1e-6)))
	}
	return dst
}

// fitForest grows trees on bootstrap samples of the newest days of a series. stacked adds the regression's mean of each day to
// the features.
func fitForest(m *sample, stacked bool, trees int, rng *rand.Rand) *forest {
	fo := &forest{Led: stacked}
	n := min(m.rows(), maxForestDays)
	skip := m.rows() - n
	if n < minForestDays || trees == 0 {
		return fo
	}
	x := make([]float64, 0, n*features)
	for i := range n {
		x = forestRow(m.row(skip+i), stacked, m.regMean[skip+i]*m.scale, x)
	}
	width := len(x) / n
	fo.Bins = newBins(x, width)
	columns := fo.Bins.columns(x)
	y := make([]float64, n)
	fo.columns, fo.demand = columns, make([]float32, n)
	for i := range y {
		y[i] = m.y(skip + i)
		fo.demand[i] = float32(y[i])
	}
	rank := fo.rank()
	gr := &forestGrower{columns: columns, y: y, draws: make([]float64, n), sum: make([]float64, n), rows: make([]int32, 0, n), scratch: make([]int32, n),
		features: make([]int32, width), mtry: max(1, int(featureShare*float64(width))), rng: rng}
	group := newGrouper(columns, rank)
	for range trees {
		t, _ := gr.grow()
		fo.Trees, fo.Groups = append(fo.Trees, slices.Clone(t)), append(fo.Groups, group.of(t))
	}
	return fo
}

// rank sorts the days by demand, and by time where it is the same, into fo.Sorted and returns the rank of each.
func (fo *forest) rank() []uint16 {
	keys := make([]uint64, len(fo.demand))
	for i, y := range fo.demand {
		bits := math.Float32bits(y)
		if bits>>31 > 0 { // so that the bits are in the order of the values
			bits = ^bits
		} else {
			bits |= 1 << 31
		}
		keys[i] = uint64(bits)<<32 | uint64(i)
	}
	slices.Sort(keys)
	rank := make([]uint16, len(keys))
	fo.Sorted = make([]float32, len(keys))
	for k, key := range keys {
		i := uint32(key)
		rank[i], fo.Sorted[k] = uint16(k), fo.demand[i]
	}
	return rank
}

// grouper sorts days into the leaves of trees.
type grouper struct {
	columns     [][]uint8
	rank        []uint16
	days, right []uint16 // scratch
	open        []part
}

// part is a node of a tree with the days in it, those of grouper.days from … to−1.
type part struct{ node, from, to int }

func newGrouper(columns [][]uint8, rank []uint16) *grouper {
	return &grouper{columns: columns, rank: rank, days: make([]uint16, len(rank)), right: make([]uint16, len(rank))}
}

// of returns the groups of a tree whose leaves are numbered depth first: days are split by the nodes, and stay in order of time.
func (g *grouper) of(t tree) ranks {
	n, leaves := len(g.rank), (len(t)+1)/2
	for i := range g.days {
		g.days[i] = uint16(i)
	}
	groups := make(ranks, leaves+1+n)
	leaf := 0
	g.open = append(g.open[:0], part{0, 0, n})
	for len(g.open) > 0 {
		p := g.open[len(g.open)-1]
		g.open = g.open[:len(g.open)-1]
		x := t[p.node]
		if x.Left == 0 {
			leaf++
			groups[leaf] = uint16(p.to)
			continue
		}
		column, left, right := g.columns[x.Feature], p.from, 0
		for _, i := range g.days[p.from:p.to] { // without a branch that would be guessed wrong every other time
			goes := 0
			if column[i] <= x.Bin {
				goes = 1
			}
			g.days[left], g.right[right] = i, i
			left += goes
			right += 1 - goes
		}
		copy(g.days[left:p.to], g.right[:right])
		g.open = append(g.open, part{int(x.Left) + 1, left, p.to}, part{int(x.Left), p.from, left})
	}
	for k, i := range g.days {
		groups[leaves+1+k] = g.rank[i]
	}
	return groups
}

// leafRanks returns the ranks of the days in a leaf of a tree.
func leafRanks(groups ranks, leaves, leaf int) ranks {
	days := groups[leaves+1:]
	return days[groups[leaf]:groups[leaf+1]]
}

// quantiles writes the quantiles at ascending levels into dst; false if the forest had too little data.
func (fo *forest) quantiles(f []float64, mean float64, levels []float64, dst []float32) bool {
	if fo == nil || len(fo.Trees) == 0 {
		return false
	}
	var row [features + 1]float64
	var q [features + 1]uint8
	for k, x := range forestRow(f, fo.Led, mean, row[:0]) {
		q[k] = fo.Bins.index(k, x)
	}
	weight := make([]float64, len(fo.Sorted))
	total := 0.0
	for k, t := range fo.Trees {
		days := leafRanks(fo.Groups[k], (len(t)+1)/2, int(t.value(q[:])))
		if len(days) == 0 {
			continue
		}
		share := 1 / float64(len(days))
		for _, r := range days {
			weight[r] += share
		}
		total++
	}
	if total == 0 {
		return false
	}
	weightedQuantiles(fo.Sorted, weight, total, levels, dst)
	return true
}

// weightedQuantiles writes the quantiles at ascending levels of sorted values with weights into dst: a value is the quantile at
// the middle of its weight, linear in between.
func weightedQuantiles(sorted []float32, weight []float64, total float64, levels []float64, dst []float32) {
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
				dst[k] = lastValue + (sorted[i]-lastValue)*float32((levels[k]-lastAt)/(middle-lastAt))
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

// forestGrower grows regression trees on bootstrap samples, each split minimising the variance within its two sides.
type forestGrower struct {
	columns  [][]uint8
	y        []float64
	draws    []float64 // how often each day was drawn
	sum      []float64 // demand times draws
	rows     []int32   // days drawn at least once
	scratch  []int32
	features []int32
	mtry     int // features tried at each split
	rng      *rand.Rand
	t        tree
	leaves   int
	bins     [maxBins]sumCount
}

type sumCount struct{ sum, n float64 }

// grow returns a tree whose leaves have their number as value, and the number of leaves. The next call overwrites the tree.
func (gr *forestGrower) grow() (tree, int) {
	clear(gr.draws)
	n := len(gr.y)
	for range n {
		gr.draws[gr.rng.IntN(n)]++
	}
	gr.rows = gr.rows[:0]
	total := 0.0
	for i, c := range gr.draws {
		if c > 0 {
			gr.rows = append(gr.rows, int32(i))
			gr.sum[i] = c * gr.y[i]
			total += gr.sum[i]
		}
	}
	for i := range gr.features {
		gr.features[i] = int32(i)
	}
	gr.t, gr.leaves = append(gr.t[:0], node{}), 0
	gr.growNode(0, 0, len(gr.rows), sumCount{sum: total, n: float64(n)})
	return gr.t, gr.leaves
}

func (gr *forestGrower) growNode(at, from, to int, all sumCount) {
	f, bin, left, ok := gr.bestSplit(from, to, all)
	if !ok {
		gr.t[at].Value = float32(gr.leaves)
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
	child := len(gr.t)
	gr.t = append(gr.t, node{}, node{})
	p := &gr.t[at]
	p.Feature, p.Bin, p.Left = uint8(f), bin, uint16(child)
	gr.growNode(child, from, mid, left)
	gr.growNode(child+1, mid, to, sumCount{sum: all.sum - left.sum, n: all.n - left.n})
}

func (gr *forestGrower) bestSplit(from, to int, all sumCount) (feature int32, bin uint8, left sumCount, ok bool) {
	if all.n < 2*minLeafDays {
		return 0, 0, left, false
	}
	rows := gr.rows[from:to]
	gain := all.sum * all.sum / all.n * (1 + 1e-12)
	for k := range gr.mtry {
		j := k + gr.rng.IntN(len(gr.features)-k)
		gr.features[k], gr.features[j] = gr.features[j], gr.features[k]
		f := gr.features[k]
		col := gr.columns[f]
		lo, hi := uint8(maxBins-1), uint8(0)
		for _, r := range rows {
			b := col[r]
			gr.bins[b].sum += gr.sum[r]
			gr.bins[b].n += gr.draws[r]
			lo, hi = min(lo, b), max(hi, b)
		}
		var l sumCount
		for b := int(lo); b <= int(hi); b++ {
			w := gr.bins[b]
			if w.n == 0 {
				continue
			}
			gr.bins[b] = sumCount{}
			l.sum, l.n = l.sum+w.sum, l.n+w.n
			rest := all.n - l.n
			if l.n < minLeafDays || rest < minLeafDays {
				continue
			}
			if got := l.sum*l.sum/l.n + (all.sum-l.sum)*(all.sum-l.sum)/rest; got > gain {
				gain, feature, bin, left, ok = got, f, uint8(b), l, true
			}
		}
	}
	return feature, bin, left, ok
}
