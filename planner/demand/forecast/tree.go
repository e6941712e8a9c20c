package forecast

// tree is a binary tree over bins: a row goes left where its bin is at most the node's.
type tree struct{ nodes []node }

type node struct {
	feature     int32 // −1: a leaf
	bin         uint8
	left, right int32
	value       float64
}

func (t *tree) value(q []uint8) float64 {
	i := int32(0)
	for t.nodes[i].feature >= 0 {
		n := &t.nodes[i]
		if q[n.feature] <= n.bin {
			i = n.left
		} else {
			i = n.right
		}
	}
	return t.nodes[i].value
}

func (t *tree) scaleLeaves(by float64) {
	for i := range t.nodes {
		t.nodes[i].value *= by
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
	spare     []*histogram
}

// leaf is a node that may still be split, with its rows and the sums by bin of each feature.
type leaf struct {
	node     int
	from, to int // of rows
	sums     *histogram
	g, h     float64
	feature  int
	bin      uint8
	gain     float64
}

type histogram struct {
	g, h [][maxBins]float64
	n    [][maxBins]int32
}

func newGrower(columns [][]uint8, minLeaf, maxLeaves int, ridge float64) *grower {
	n := len(columns[0])
	return &grower{columns: columns, minLeaf: minLeaf, maxLeaves: maxLeaves, ridge: ridge, rows: make([]int32, n), scratch: make([]int32, n)}
}

func (gr *grower) histogram() *histogram {
	if k := len(gr.spare); k > 0 {
		h := gr.spare[k-1]
		gr.spare = gr.spare[:k-1]
		clear(h.g)
		clear(h.h)
		clear(h.n)
		return h
	}
	f := len(gr.columns)
	return &histogram{g: make([][maxBins]float64, f), h: make([][maxBins]float64, f), n: make([][maxBins]int32, f)}
}

// tree grows one tree on gradients g and curvatures h. Leaf values are Newton steps, shrunk by the ridge.
func (gr *grower) tree(g, h []float64) tree {
	for i := range gr.rows {
		gr.rows[i] = int32(i)
	}
	for i := range gr.leaves {
		gr.spare = append(gr.spare, gr.leaves[i].sums)
	}
	gr.leaves = gr.leaves[:0]
	t := tree{nodes: []node{{feature: -1}}}
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
		gr.split(&t, best, g, h)
	}
	for _, l := range gr.leaves {
		t.nodes[l.node].value = l.g / (l.h + gr.ridge)
	}
	return t
}

// each visits the rows of the tree grown last with the value of their leaf.
func (gr *grower) each(visit func(row int, value float64)) {
	for _, l := range gr.leaves {
		v := l.g / (l.h + gr.ridge)
		for _, r := range gr.rows[l.from:l.to] {
			visit(int(r), v)
		}
	}
}

func (gr *grower) count(l *leaf, g, h []float64) {
	rows := gr.rows[l.from:l.to]
	for f, col := range gr.columns {
		sg, sh, sn := &l.sums.g[f], &l.sums.h[f], &l.sums.n[f]
		for _, r := range rows {
			b := col[r]
			sg[b] += g[r]
			sh[b] += h[r]
			sn[b]++
		}
	}
	gr.total(l)
}

func (gr *grower) total(l *leaf) {
	l.g, l.h = 0, 0
	for b := range maxBins {
		l.g += l.sums.g[0][b]
		l.h += l.sums.h[0][b]
	}
	gr.search(l)
}

// search finds the split of a leaf that gains most.
func (gr *grower) search(l *leaf) {
	l.gain = 0
	n := int32(l.to - l.from)
	if int(n) < 2*gr.minLeaf {
		return
	}
	whole := l.g * l.g / (l.h + gr.ridge)
	for f := range gr.columns {
		g, h, c := 0.0, 0.0, int32(0)
		for b := range maxBins - 1 {
			if l.sums.n[f][b] == 0 {
				continue
			}
			g, h, c = g+l.sums.g[f][b], h+l.sums.h[f][b], c+l.sums.n[f][b]
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

func (gr *grower) split(t *tree, i int, g, h []float64) {
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
	left := int32(len(t.nodes))
	t.nodes = append(t.nodes, node{feature: -1}, node{feature: -1})
	p := &t.nodes[l.node]
	p.feature, p.bin, p.left, p.right = int32(l.feature), l.bin, left, left+1
	a := leaf{node: int(left), from: l.from, to: mid}
	b := leaf{node: int(left) + 1, from: mid, to: l.to}
	small, large := &a, &b
	if a.to-a.from > b.to-b.from {
		small, large = &b, &a
	}
	small.sums = gr.histogram()
	gr.count(small, g, h)
	large.sums = l.sums // what the small one leaves of the whole
	for f := range gr.columns {
		for k := range maxBins {
			large.sums.g[f][k] -= small.sums.g[f][k]
			large.sums.h[f][k] -= small.sums.h[f][k]
			large.sums.n[f][k] -= small.sums.n[f][k]
		}
	}
	gr.total(large)
	gr.leaves[i] = a
	gr.leaves = append(gr.leaves, b)
}
