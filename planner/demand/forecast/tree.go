package forecast

// tree is a binary tree over bins: a row goes left where its bin is at most the node's. Children stand side by side.
type tree []node

type node struct {
	Value   float32
	Left    uint16 // of the left child; the right one follows. 0: a leaf, since the root is nobody's child
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

// grower grows trees leaf by leaf, the best split first, from sums of gradients by bin.
type grower struct {
	columns   [][]uint8
	minLeaf   int
	maxLeaves int
	ridge     float64
	rows      []int32
	scratch   []int32
	leaves    []leaf
	spare     []histogram
}

// leaf is a node that may still be split, with its rows and the sums by bin of each feature.
type leaf struct {
	node     int
	from, to int // of rows
	sums     histogram
	g, h     float64
	feature  int
	bin      uint8
	gain     float64
}

// histogram is the sums of gradient, curvature and rows by bin, feature by feature.
type histogram [][maxBins]bucket

type bucket struct {
	g, h float64
	n    int32
}

func newGrower(columns [][]uint8, minLeaf, maxLeaves int, ridge float64) *grower {
	n := len(columns[0])
	return &grower{columns: columns, minLeaf: minLeaf, maxLeaves: maxLeaves, ridge: ridge, rows: make([]int32, n), scratch: make([]int32, n)}
}

func (gr *grower) histogram() histogram {
	if k := len(gr.spare); k > 0 {
		h := gr.spare[k-1]
		gr.spare = gr.spare[:k-1]
		clear(h)
		return h
	}
	return make(histogram, len(gr.columns))
}

// tree grows one tree on gradients g and curvatures h. Leaf values are Newton steps, shrunk by the ridge, times step.
func (gr *grower) tree(g, h []float64, step float64) tree {
	for i := range gr.rows {
		gr.rows[i] = int32(i)
	}
	for i := range gr.leaves {
		gr.spare = append(gr.spare, gr.leaves[i].sums)
	}
	gr.leaves = gr.leaves[:0]
	t := make(tree, 1, 2*gr.maxLeaves)
	root := leaf{node: 0, from: 0, to: len(gr.rows), sums: gr.histogram()}
	gr.count(&root, g, h)
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

// each visits the rows of the tree grown last with the value of their leaf.
func (gr *grower) each(t tree, visit func(row int32, value float64)) {
	for _, l := range gr.leaves {
		v := float64(t[l.node].Value)
		for _, r := range gr.rows[l.from:l.to] {
			visit(r, v)
		}
	}
}

func (gr *grower) count(l *leaf, g, h []float64) {
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
	gr.search(l)
}

// search finds the split of a leaf that gains most.
func (gr *grower) search(l *leaf) {
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

func (gr *grower) split(t tree, i int, g, h []float64) tree {
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
	gr.count(small, g, h)
	large.sums = l.sums // what the small one leaves of the whole
	for f := range large.sums {
		from, less := &large.sums[f], &small.sums[f]
		for k := range from {
			from[k].g -= less[k].g
			from[k].h -= less[k].h
			from[k].n -= less[k].n
		}
	}
	gr.search(large)
	gr.leaves[i] = a
	gr.leaves = append(gr.leaves, b)
	return t
}
