package forecast

// tree is a binary decision tree on bins: a row goes left if its bin is at most the node's. Children are adjacent.
type tree []node

type node struct {
	Value   float32
	Left    uint16 // index of the left child, the right one follows; 0 for a leaf, as the root is never a child
	Feature uint8
	Bin     uint8
}

func (t tree) value(q []uint8) float32 {
	i := uint16(0)
	for {
		n := t[i]
		if n.Left == 0 {
			return n.Value
		}
		i = n.Left
		if q[n.Feature] > n.Bin {
			i++
		}
	}
}

// boostGrower grows trees leaf-wise, best split first, from histograms of gradients.
type boostGrower struct {
	columns   [][]uint8
	minLeaf   int
	maxLeaves int
	ridge     float64
	rows      []int32
	scratch   []int32
	leaves    []leaf
	spare     []histogram
}

// leaf is a node that may still be split, with its rows and histogram.
type leaf struct {
	node     int
	from, to int // of rows
	sums     histogram
	g, h     float64
	feature  int
	bin      uint8
	gain     float64
}

// histogram holds the sums of gradient, Hessian and rows by bin, feature by feature.
type histogram [][maxBins]bucket

type bucket struct {
	g, h float64
	n    int32
}

func newBoostGrower(columns [][]uint8, minLeaf, maxLeaves int, ridge float64) *boostGrower {
	n := len(columns[0])
	return &boostGrower{columns: columns, minLeaf: minLeaf, maxLeaves: maxLeaves, ridge: ridge, rows: make([]int32, n), scratch: make([]int32, n)}
}

func (gr *boostGrower) histogram() histogram {
	if k := len(gr.spare); k > 0 {
		h := gr.spare[k-1]
		gr.spare = gr.spare[:k-1]
		clear(h)
		return h
	}
	return make(histogram, len(gr.columns))
}

// tree grows one tree on gradients g and Hessians h. Leaf values are Newton steps with ridge penalty, times the learning rate.
func (gr *boostGrower) tree(g, h []float64, step float64) tree {
	for i := range gr.rows {
		gr.rows[i] = int32(i)
	}
	for i := range gr.leaves {
		gr.spare = append(gr.spare, gr.leaves[i].sums)
	}
	gr.leaves = gr.leaves[:0]
	t := make(tree, 1, 2*gr.maxLeaves)
	root := leaf{node: 0, from: 0, to: len(gr.rows), sums: gr.histogram()}
	gr.fillSums(&root, g, h)
	gr.leaves = append(gr.leaves, root)
	for len(gr.leaves) < gr.maxLeaves {
		best := -1
		for i := range gr.leaves {
			if gr.leaves[i].gain > 0 && (best < 0 || gr.leaves[i].gain > gr.leaves[best].gain) {
				best = i
			}
		}
		if best < 0 {
			break
		}
		t = gr.split(t, best, g, h)
	}
	for _, l := range gr.leaves {
		t[l.node].Value = float32(step * l.g / (l.h + gr.ridge))
	}
	return t
}

// eachRow calls visit for the rows of the last tree with the value of their leaf.
func (gr *boostGrower) eachRow(t tree, visit func(row int32, value float64)) {
	for _, l := range gr.leaves {
		v := float64(t[l.node].Value)
		for _, r := range gr.rows[l.from:l.to] {
			visit(r, v)
		}
	}
}

func (gr *boostGrower) fillSums(l *leaf, g, h []float64) {
	rows := gr.rows[l.from:l.to]
	for f, col := range gr.columns {
		sums := &l.sums[f]
		for _, r := range rows {
			b := &sums[col[r]]
			b.g += g[r]
			b.h += h[r]
			b.n++
		}
	}
	gr.bestSplit(l)
}

// bestSplit finds the split of a leaf with the highest gain.
func (gr *boostGrower) bestSplit(l *leaf) {
	l.g, l.h, l.gain = 0, 0, 0
	for b := range l.sums[0] {
		l.g += l.sums[0][b].g
		l.h += l.sums[0][b].h
	}
	n := int32(l.to - l.from)
	if int(n) < 2*gr.minLeaf {
		return
	}
	whole := l.g * l.g / (l.h + gr.ridge)
	for f := range gr.columns {
		g, h, c := 0.0, 0.0, int32(0)
		sums := &l.sums[f]
		for b := range maxBins - 1 {
			if sums[b].n == 0 {
				continue
			}
			g, h, c = g+sums[b].g, h+sums[b].h, c+sums[b].n
			if int(c) < gr.minLeaf {
				continue
			}
			if int(n-c) < gr.minLeaf {
				break
			}
			gain := g*g/(h+gr.ridge) + (l.g-g)*(l.g-g)/(l.h-h+gr.ridge) - whole
			if gain > l.gain+1e-12 {
				l.gain, l.feature, l.bin = gain, f, uint8(b)
			}
		}
	}
}

func (gr *boostGrower) split(t tree, i int, g, h []float64) tree {
	l := gr.leaves[i]
	col := gr.columns[l.feature]
	mid, k := l.from, 0
	for _, r := range gr.rows[l.from:l.to] {
		if col[r] <= l.bin {
			gr.rows[mid] = r
			mid++
		} else {
			gr.scratch[k] = r
			k++
		}
	}
	copy(gr.rows[mid:l.to], gr.scratch[:k])
	left := len(t)
	t = append(t, node{}, node{})
	p := &t[l.node]
	p.Feature, p.Bin, p.Left = uint8(l.feature), l.bin, uint16(left)
	a := leaf{node: left, from: l.from, to: mid}
	b := leaf{node: left + 1, from: mid, to: l.to}
	small, large := &a, &b
	if a.to-a.from > b.to-b.from {
		small, large = &b, &a
	}
	small.sums = gr.histogram()
	gr.fillSums(small, g, h)
	large.sums = l.sums // the parent's less the smaller child's
	for f := range large.sums {
		from, less := &large.sums[f], &small.sums[f]
		for k := range from {
			from[k].g -= less[k].g
			from[k].h -= less[k].h
			from[k].n -= less[k].n
		}
	}
	gr.bestSplit(large)
	gr.leaves[i] = a
	gr.leaves = append(gr.leaves, b)
	return t
}
