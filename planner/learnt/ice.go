package learnt

import (
	"math"
	"time"
)

// IceShop is an ice bin for drinks over some weeks: what was counted in it, and what the set-up says about each quarter of an hour between
// the counts. Masses are in g.
type IceShop struct {
	BinG        float64
	LossPctPerH float64   // the set-up's bin_loss_pct_per_h
	Machines    []string  // codes
	Steps       []IceStep // one after the other, each StepLength long
	Counts      []BinCount
}

// StepLength is the length of an IceStep.
const StepLength = 15 * time.Minute

// IceStep is a quarter of an hour of an ice bin.
type IceStep struct {
	AirC    float64
	MadeG   []float64 // by each machine, as the set-up has it in that air; 0 while it is out of order
	ServedG float64   // in the drinks sold, as the set-up has it
	MovedG  float64   // weighed or counted: bags and trays emptied into the bin, less ice stirred into batches and thrown away
	Unknown bool      // sales or weather are missing
}

// BinCount is a look into the ice bin at the start of a step.
type BinCount struct {
	Step int
	G    float64
}

// Priors of the ice model, as relative standard deviations: machines of a shop err together, in the heat they stand in, and each on its
// own. The slope is the change of a machine's output for 1 °C, beyond the set-up's, as a share.
const (
	machinesSD = 0.35
	machineSD  = 0.08
	lossSD     = 0.3
	servedSD   = 0.06
	slopeSD    = 0.005
)

// leastLossPctPerH is the prior median of the bin's loss where the set-up has less, %/h.
const leastLossPctPerH = 0.3

// Errors of the ice model. A count by eye has a standard deviation of eyeSD of the bin before it is rounded to quarters, and one in
// strayShare is wrong altogether. Between two counts the balance is off by the root of the squares of outputSD of the ice made, servedErr
// of the ice served, movedErr of the ice moved and floorSD of the bin, four times that once in strayShare. noiseSD is the relative
// standard deviation of that error's size, which is estimated as well.
const (
	eyeSD      = 0.04
	strayShare = 0.04
	outputSD   = 0.06
	servedErr  = 0.08
	movedErr   = 0.05
	floorSD    = 0.02
	noiseSD    = 0.3
)

// binCells is the number of cells that the bin's level is divided into.
const binCells = 48

// iceModel is the likelihood of the counts as a function of its parameters: the logarithms of each machine's output and of the bin's loss
// and the ice served, as factors on the set-up; the slope; and the logarithm of the size of the errors.
type iceModel struct {
	shop       *IceShop
	resolution float64 // of the counts, g; 0: to the gram
	meanC      float64 // mean air temperature, at which the slope turns
	lossPct    float64 // prior median
	kernel     []float64
	kernelSD   float64
	soldOut    []emptied
	seen       map[float64][]float64 // by count
	flows      []flow
	errors     []float64 // standard deviations of the error of the balance over the last flows, by their number
	now, next  []float64
}

// Indexes of the parameters after those of the machines.
const (
	lossParam = iota
	servedParam
	slopeParam
	noiseParam
	otherParams
)

func newIceModel(s *IceShop) *iceModel {
	m := &iceModel{shop: s, lossPct: max(s.LossPctPerH, leastLossPctPerH), now: make([]float64, binCells+1), next: make([]float64, binCells+1), seen: map[float64][]float64{}}
	m.resolution = resolutionOf(s)
	n := 0.0
	for i := range s.Steps {
		if st := &s.Steps[i]; !st.Unknown {
			m.meanC, n = m.meanC+st.AirC, n+1
		}
	}
	if n > 0 {
		m.meanC /= n
	}
	return m
}

// resolutionOf is the step in which people count: quarters or eighths of the bin where nine counts in ten are multiples of it.
func resolutionOf(s *IceShop) float64 {
	for _, parts := range []float64{4, 8} {
		step, whole := s.BinG/parts, 0
		for _, c := range s.Counts {
			if math.Abs(c.G/step-math.Round(c.G/step)) < 0.02 {
				whole++
			}
		}
		if 10*whole >= 9*len(s.Counts) {
			return step
		}
	}
	return 0
}

func (m *iceModel) params() int { return len(m.shop.Machines) + otherParams }

// logPosterior is the logarithm of prior times likelihood, up to a constant.
func (m *iceModel) logPosterior(x []float64) float64 { return m.logPrior(x) + m.logLikelihood(x) }

func (m *iceModel) logPrior(x []float64) float64 {
	k := len(m.shop.Machines)
	// The covariance of the machines is c²·11ᵀ + d²·I; its inverse by Sherman and Morrison.
	sum, squares := 0.0, 0.0
	for _, f := range x[:k] {
		sum, squares = sum+f, squares+f*f
	}
	c, d := machinesSD*machinesSD, machineSD*machineSD
	quad := squares/d - c/(d*(d+float64(k)*c))*sum*sum
	for i, sd := range [otherParams]float64{lossSD, servedSD, slopeSD, noiseSD} {
		quad += x[k+i] * x[k+i] / (sd * sd)
	}
	return -quad / 2
}

// logLikelihood filters the level of the bin: its distribution over the cells is carried from count to count and weighed with each. Before
// the first count, and after steps that are unknown, every level is equally likely.
func (m *iceModel) logLikelihood(x []float64) float64 {
	s, k := m.shop, len(m.shop.Machines)
	served, slope, noise := math.Exp(x[k+servedParam]), x[k+slopeParam], math.Exp(x[k+noiseParam])
	keep := math.Pow(1-math.Min(0.9, m.lossPct/100*math.Exp(x[k+lossParam])), StepLength.Hours())
	factor := make([]float64, k)
	for i := range factor {
		factor[i] = math.Exp(x[i])
	}
	uniform(m.now)
	sum, at := 0.0, -1
	for _, c := range s.Counts {
		if c.Step < at || c.Step > len(s.Steps) {
			continue
		}
		if at >= 0 {
			m.flows = m.flows[:0]
			gap := false
			for i := at; i < c.Step; i++ {
				st := &s.Steps[i]
				gap = gap || st.Unknown
				made, setUp := 0.0, 0.0
				for j, g := range st.MadeG {
					made, setUp = made+g*factor[j], setUp+g
				}
				made *= math.Exp(slope * (st.AirC - m.meanC))
				m.flows = append(m.flows, flow{made + st.MovedG - served*st.ServedG, setUp, st.ServedG, math.Abs(st.MovedG)})
			}
			if gap {
				uniform(m.now)
			} else {
				m.carry(keep, noise)
			}
		}
		sum += m.weigh(c.G)
		at = c.Step
	}
	return sum
}

// flow is what a step adds to the bin, and the ice made, served and moved in it, by the set-up: the errors must not depend on the
// parameters, or small factors would pay by their small errors.
type flow struct{ net, made, served, moved float64 }

func uniform(p []float64) {
	for i := range p {
		p[i] = 1 / float64(len(p))
	}
}

// soldOutShare is how far, as a share of the bin, demand is spread about the ice there is: how much likelier than its density a stock-out
// is, at which all that there was is sold.
const soldOutShare = 0.1

// carry moves each level through the flows: melting, ice made up to a full bin, ice taken out. The balance since the bin was last full is
// off by an error with noise times its standard deviation. What was served was there: a level from which the balance falls below zero needs
// an error that makes up for it. And where ice ran out, sales ended with it, so that the balance ends at zero: those cases weigh by the
// density of the error that makes the lowest level zero.
func (m *iceModel) carry(keep, noise float64) {
	clear(m.next)
	m.soldOut = m.soldOut[:0]
	size, n := m.shop.BinG, len(m.flows)
	m.errors = append(m.errors[:0], noise*errorSD(&flow{}, size))
	var sums flow
	for i := n - 1; i >= 0; i-- {
		f := &m.flows[i]
		sums = flow{0, sums.made + f.made, sums.served + f.served, sums.moved + f.moved}
		m.errors = append(m.errors, noise*errorSD(&sums, size))
	}
	all := m.errors[n]
	for i, p := range m.now {
		if p < 1e-7 {
			continue
		}
		end := m.run(size*float64(i)/binCells, keep, m.flows)
		margin := end.lowest
		if end.missing > 0 {
			margin = -end.missing
		}
		m.put(end.g, p*((1-strayShare)*normalCDF(margin/all)+strayShare), m.errors[end.since])
		if z := margin / all; math.Abs(z) < 4 {
			empty := end
			if end.missing == 0 {
				empty = m.run(0, keep, m.flows[n-end.after:])
			}
			m.soldOut = append(m.soldOut, emptied{empty.g, p * soldOutShare * size * math.Exp(-z*z/2) / (all * math.Sqrt(2*math.Pi)), m.errors[empty.since]})
		}
	}
	for _, e := range m.soldOut { // apart, since they share their errors
		m.put(e.g, e.p, e.sd)
	}
	m.now, m.next = m.next, m.now
}

// emptied is a level after the bin ran empty, its probability and the standard deviation of its error.
type emptied struct{ g, p, sd float64 }

// run is a level of the bin carried through flows.
type run struct {
	g       float64
	missing float64 // served although it was not there
	lowest  float64
	after   int // flows after the lowest level
	since   int // flows since the bin was last full or empty, all if it never was
}

func (m *iceModel) run(g, keep float64, flows []flow) run {
	out := run{g: g, lowest: g, after: len(flows), since: len(flows)}
	for k, f := range flows {
		left := len(flows) - k - 1
		out.g = out.g*keep + f.net
		if out.g < 0 || out.g > m.shop.BinG {
			out.missing -= min(0, out.g)
			out.g, out.since = min(max(0, out.g), m.shop.BinG), left
		}
		if out.g < out.lowest {
			out.lowest, out.after = out.g, left
		}
	}
	return out
}

// errorSD is the standard deviation of the error of the balance over flows that sum to f, in a bin of size g, g.
func errorSD(f *flow, size float64) float64 {
	return math.Hypot(math.Hypot(floorSD*size, outputSD*f.made), math.Hypot(servedErr*f.served, movedErr*f.moved))
}

// put adds p about a level of g, spread by an error with a standard deviation of sd g, four times that in strayShare of the cases. Levels
// stay within the bin.
func (m *iceModel) put(g, p, sd float64) {
	if sd != m.kernelSD {
		m.spread(sd)
	}
	at := g / m.shop.BinG * binCells
	lo := min(int(at), binCells-1)
	for k, share := range [2]float64{1 - (at - float64(lo)), at - float64(lo)} {
		i, p := lo+k, p*share
		m.next[i] += p * m.kernel[0]
		for d := 1; d < len(m.kernel); d++ {
			m.next[max(0, i-d)] += p * m.kernel[d]
			m.next[min(binCells, i+d)] += p * m.kernel[d]
		}
	}
}

// spread sets the kernel of an error with a standard deviation of sd g.
func (m *iceModel) spread(sd float64) {
	m.kernelSD = sd
	width := m.shop.BinG / binCells
	m.kernel = m.kernel[:0]
	total, below, belowWide := 0.0, 0.5, 0.5
	for d := 0; d <= min(binCells, int(math.Ceil(10*sd/width))); d++ {
		edge := (float64(d) + 0.5) * width / sd
		next, nextWide := normalCDF(edge), normalCDF(edge/4)
		w := (1-strayShare)*(next-below) + strayShare*(nextWide-belowWide)
		if d == 0 {
			w *= 2
		}
		below, belowWide = next, nextWide
		m.kernel = append(m.kernel, w)
		total += w
		if d > 0 {
			total += w
		}
	}
	for d := range m.kernel {
		m.kernel[d] /= total
	}
}

// weigh conditions the levels on a count of g and returns the logarithm of its probability.
func (m *iceModel) weigh(g float64) float64 {
	seen, ok := m.seen[g]
	if !ok {
		seen = m.lookedLike(g)
		m.seen[g] = seen
	}
	sum := 0.0
	for i, p := range seen {
		m.now[i] *= p
		sum += m.now[i]
	}
	for i := range m.now {
		m.now[i] /= sum
	}
	return math.Log(sum)
}

// lookedLike is the probability, by level, that somebody who looks counts g.
func (m *iceModel) lookedLike(g float64) []float64 {
	size := m.shop.BinG
	sd := eyeSD * size
	half := m.resolution / 2
	if m.resolution == 0 { // weighed, or guessed more finely
		half = size / binCells / 2
	}
	lo, hi := g-half, g+half
	if g <= half {
		lo = math.Inf(-1)
	}
	if g >= size-half {
		hi = math.Inf(1)
	}
	stray := strayShare * 2 * half / size
	out := make([]float64, binCells+1)
	for i := range out {
		x := size * float64(i) / binCells
		out[i] = stray + (1-strayShare)*(normalCDF((hi-x)/sd)-normalCDF((lo-x)/sd))
	}
	return out
}
