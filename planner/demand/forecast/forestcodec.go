package forecast

import (
	"encoding/binary"
	"errors"
	"math"
	"slices"
)

// The days in the leaves of a forest's trees need more room than all else in a state, and follow from the features of the days. So a
// forest is stored as its trees, the features in bins and the demand; the leaves are filled when it is read. Many columns are the same in
// all forests of a site: those of the calendar and the weather. Each is stored once.

// storedFeatures is the number of features of a forest, at most.
const storedFeatures = features + 1

// Streams of packed forests.
const (
	forestHeads   = 0 // what each forest has
	forestNodes   = 1 // of trees, depth first: the feature, or leafMark
	forestDemand  = 2 // low and high bytes
	forestCuts    = 4 // four bytes of float32s
	forestCutsF64 = 8 // cuts that float32 can't hold
	forestDemandF = 9 // demand that isn't a small whole number
	forestBins    = 10
	forestBinned  = forestBins + storedFeatures
	forestStreams = forestBinned + storedFeatures
)

// A column is told by its differences from what is expected of it.
const (
	fromNothing = iota
	fromRow     // the row before
	fromSix     // the sixth row before: the week's, of a shop that is open on six days
	fromSeven
	fromDemandSix // the bin of the demand then: the demand of the week before is among the features
	fromDemandSeven
	expectations
)

// lags are the numbers of rows before.
var lags = [expectations]int{0, 1, 6, 7, 6, 7}

// sameWeekday is the column of the demand on the last same weekday.
var sameWeekday = slices.Index(forestColumns, fSame1)

// demandBins are the days' demand in the bins of a feature.
func (fo *forest) demandBins(feature int) []uint8 {
	out := make([]uint8, len(fo.demand))
	for i, y := range fo.demand {
		out[i] = fo.Bins.index(feature, float64(y))
	}
	return out
}

// forestPacker packs forests. Columns, cuts and demands that it has written are named by their number.
type forestPacker struct {
	out                    streams
	columns, cuts, demands map[string]int
}

// packForests packs the forests that have their columns, and returns the others, with empty ones in their place.
func (p *packer) packForests(list [][2]*forest) (rest [][2]*forest) {
	w := &forestPacker{out: make(streams, forestStreams), columns: map[string]int{}, cuts: map[string]int{}, demands: map[string]int{}}
	rest = make([][2]*forest, len(list))
	for i := range list {
		for k, fo := range list[i] {
			if rest[i][k] = fo; fo == nil || fo.columns == nil || len(fo.Trees) == 0 {
				w.head(0)
				continue
			}
			rest[i][k] = &forest{Led: fo.Led}
			w.forest(fo)
		}
	}
	p.addAll(w.out)
	return rest
}

func (w *forestPacker) head(x int) {
	w.out[forestHeads] = binary.AppendUvarint(w.out[forestHeads], uint64(x))
}

// once writes the number of a key in known, counted back from the newest, or 0 and the thing itself if it is new.
func (w *forestPacker) once(known map[string]int, key []byte, write func()) {
	if k, ok := known[string(key)]; ok {
		w.head(len(known) - k)
		return
	}
	known[string(key)] = len(known)
	w.head(0)
	write()
}

func (w *forestPacker) forest(fo *forest) {
	w.head(len(fo.columns))
	w.head(len(fo.Trees))
	var raw []byte
	for _, y := range fo.demand {
		raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(y))
	}
	w.once(w.demands, raw, func() { w.demand(fo.demand, raw) })
	for f, column := range fo.columns {
		raw = raw[:0]
		for _, c := range fo.Bins.Cuts[f] {
			raw = binary.LittleEndian.AppendUint64(raw, math.Float64bits(c))
		}
		w.once(w.cuts, raw, func() { w.cut(fo.Bins.Cuts[f], raw) })
		w.once(w.columns, column, func() { w.column(fo, f) })
	}
	for _, t := range fo.Trees {
		w.tree(t, 0)
	}
}

func (w *forestPacker) demand(demand []float32, raw []byte) {
	w.head(len(demand))
	small := true
	for _, y := range demand {
		small = small && y >= 0 && y <= math.MaxUint16 && y == float32(uint16(y))
	}
	if !small {
		w.head(1)
		w.out[forestDemandF] = append(w.out[forestDemandF], raw...)
		return
	}
	w.head(0)
	for _, y := range demand {
		w.out[forestDemand] = append(w.out[forestDemand], byte(uint16(y)))
		w.out[forestDemand+1] = append(w.out[forestDemand+1], byte(uint16(y)>>8))
	}
}

// column writes a column of a feature as differences from what is expected, in the way that makes them smallest.
func (w *forestPacker) column(fo *forest, feature int) {
	column := fo.columns[feature]
	n := fromDemandSix
	var demand []uint8
	if feature == sameWeekday {
		n, demand = expectations, fo.demandBins(feature)
	}
	best, least := 0, math.MaxInt
	var bestRows, rows []uint8
	for from := range n {
		of := column
		if from >= fromDemandSix {
			of = demand
		}
		rows = append(rows[:0], column...)
		if lag := lags[from]; lag > 0 {
			for i := lag; i < len(column); i++ {
				rows[i] -= of[i-lag]
			}
		}
		size := 0
		for _, x := range rows {
			size += int(bitsOf[x])
		}
		if from == fromNothing { // bins are equally frequent, while differences are mostly small
			size = size * 9 / 10
		}
		if size < least {
			best, least, bestRows = from, size, append(bestRows[:0], rows...)
		}
	}
	w.head(best)
	w.out[forestBinned+feature] = append(w.out[forestBinned+feature], bestRows...)
}

// bitsOf is about how many bits a difference takes, in tenths.
var bitsOf = func() (b [256]uint8) {
	for x := range b {
		b[x] = uint8(10 + 20*math.Log2(1+math.Abs(float64(int8(x)))))
	}
	return b
}()

func (w *forestPacker) cut(cuts []float64, raw []byte) {
	w.head(len(cuts))
	narrow := true
	for _, c := range cuts {
		narrow = narrow && c == float64(float32(c))
	}
	if !narrow {
		w.head(1)
		w.out[forestCutsF64] = append(w.out[forestCutsF64], raw...)
		return
	}
	w.head(0)
	for _, c := range cuts {
		b := math.Float32bits(float32(c))
		for k := range 4 {
			w.out[forestCuts+k] = append(w.out[forestCuts+k], byte(b>>(8*k)))
		}
	}
}

// tree writes the nodes of a tree depth first.
func (w *forestPacker) tree(t tree, at int) {
	x := t[at]
	if x.Left == 0 {
		w.out[forestNodes] = append(w.out[forestNodes], leafMark)
		return
	}
	w.out[forestNodes] = append(w.out[forestNodes], x.Feature)
	w.out[forestBins+int(x.Feature)] = append(w.out[forestBins+int(x.Feature)], x.Bin)
	w.tree(t, int(x.Left))
	w.tree(t, int(x.Left)+1)
}

// forestUnpacker reads what forestPacker wrote.
type forestUnpacker struct {
	u       *unpacker
	in      []stream
	columns [][]uint8
	cuts    [][]float64
	demands []ranked
}

// ranked is the demand of a forest's days with the rank of each.
type ranked struct {
	demand, sorted []float32
	rank           []uint16
}

// unpackForests fills the forests of list that were packed.
func (u *unpacker) unpackForests(list [][2]*forest) {
	r := &forestUnpacker{u: u, in: u.nextAll(forestStreams)}
	for i := range list {
		for k := range list[i] {
			width := r.head()
			if u.err != nil {
				return
			}
			if width == 0 {
				continue
			}
			if width > storedFeatures || list[i][k] == nil {
				u.fail(errors.New("a forest has too many features"))
				return
			}
			r.forest(list[i][k], width)
		}
	}
}

func (r *forestUnpacker) head() int { return r.in[forestHeads].uvarint() }

// once returns what was written before by its number, or reads it.
func once[T any](r *forestUnpacker, known *[]T, read func() T) T {
	back := r.head()
	if back == 0 {
		*known = append(*known, read())
		back = 1
	}
	if back > len(*known) {
		r.u.fail(errors.New("a forest refers to something unknown"))
		return *new(T)
	}
	return (*known)[len(*known)-back]
}

func (r *forestUnpacker) forest(fo *forest, width int) {
	trees := r.head()
	y := once(r, &r.demands, r.demand)
	fo.demand, fo.Sorted = y.demand, y.sorted
	fo.Bins = &bins{Cuts: make([][]float64, width)}
	fo.columns = make([][]uint8, width)
	for f := range width {
		fo.Bins.Cuts[f] = once(r, &r.cuts, r.cut)
		fo.columns[f] = once(r, &r.columns, func() []uint8 { return r.column(fo, f) })
		if len(fo.columns[f]) != len(fo.demand) {
			r.u.fail(errors.New("a forest has columns of different lengths"))
		}
	}
	if r.u.err != nil {
		return
	}
	group := newGrouper(fo.columns, y.rank)
	for range trees {
		t := r.tree(width)
		if r.u.err != nil {
			return
		}
		fo.Trees, fo.Groups = append(fo.Trees, t), append(fo.Groups, group.of(t))
	}
}

func (r *forestUnpacker) demand() ranked {
	fo := forest{demand: r.days()}
	rank := fo.rank()
	return ranked{fo.demand, fo.Sorted, rank}
}

func (r *forestUnpacker) days() []float32 {
	n, wide := r.head(), r.head()
	if n > maxForestDays {
		r.u.fail(errors.New("a forest has too many days"))
		return nil
	}
	out := make([]float32, n)
	if wide > 0 {
		raw := r.in[forestDemandF].take(4 * n)
		for i := range out {
			out[i] = math.Float32frombits(binary.LittleEndian.Uint32(raw[4*i:]))
		}
		return out
	}
	low, high := r.in[forestDemand].take(n), r.in[forestDemand+1].take(n)
	for i := range out {
		out[i] = float32(uint16(low[i]) | uint16(high[i])<<8)
	}
	return out
}

func (r *forestUnpacker) column(fo *forest, feature int) []uint8 {
	from := r.head()
	if from >= expectations {
		r.u.fail(errors.New("a column is told from something unknown"))
		return nil
	}
	out := append([]uint8(nil), r.in[forestBinned+feature].take(len(fo.demand))...)
	of := out
	if from >= fromDemandSix {
		of = fo.demandBins(feature)
	}
	if lag := lags[from]; lag > 0 {
		for i := lag; i < len(out); i++ {
			out[i] += of[i-lag]
		}
	}
	return out
}

func (r *forestUnpacker) cut() []float64 {
	n, wide := r.head(), r.head()
	if n >= maxBins {
		r.u.fail(errors.New("a feature has too many bins"))
	}
	if n == 0 || r.u.err != nil {
		return nil
	}
	out := make([]float64, n)
	if wide > 0 {
		raw := r.in[forestCutsF64].take(8 * n)
		for i := range out {
			out[i] = math.Float64frombits(binary.LittleEndian.Uint64(raw[8*i:]))
		}
		return out
	}
	var b [4][]byte
	for k := range b {
		b[k] = r.in[forestCuts+k].take(n)
	}
	for i := range out {
		out[i] = float64(math.Float32frombits(uint32(b[0][i]) | uint32(b[1][i])<<8 | uint32(b[2][i])<<16 | uint32(b[3][i])<<24))
	}
	return out
}

// tree reads a tree: leaves are numbered depth first, and children lie in that order too.
func (r *forestUnpacker) tree(width int) tree {
	t := make(tree, 1, 256)
	leaves := 0
	open := make([]int, 1, 32) // nodes to visit, the last one first
	for len(open) > 0 && r.u.err == nil {
		i := open[len(open)-1]
		open = open[:len(open)-1]
		feature := r.in[forestNodes].byte()
		if feature == leafMark {
			t[i].Value = float32(leaves)
			leaves++
			continue
		}
		if int(feature) >= width || len(t)+2 > math.MaxUint16 {
			r.u.fail(errors.New("a tree has an unknown feature or too many nodes"))
			return nil
		}
		t[i] = node{Left: uint16(len(t)), Feature: feature, Bin: r.in[forestBins+int(feature)].byte()}
		open = append(open, len(t)+1, len(t))
		t = append(t, node{}, node{})
	}
	return t
}
