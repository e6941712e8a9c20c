package risk

// ledger records the shortages of one stock or flow, by run.
type ledger struct {
	atLeast            float64 // smallest amount in a day that counts as a shortage
	day, all           []float64
	firstDay, firstAll []int32
}

func newLedger(n int, smallestServing float64) ledger {
	l := ledger{
		atLeast: tolerance * smallestServing,
		day:     make([]float64, n), all: make([]float64, n),
		firstDay: make([]int32, n), firstAll: make([]int32, n),
	}
	for i := range n {
		l.firstDay[i], l.firstAll[i] = -1, -1
	}
	return l
}

func (l *ledger) record(run, slot int, g float64) {
	l.day[run] += g
	l.all[run] += g
	if l.day[run] < l.atLeast || l.firstDay[run] >= 0 {
		return
	}
	l.firstDay[run] = int32(slot)
	if l.firstAll[run] < 0 {
		l.firstAll[run] = int32(slot)
	}
}

// close summarises the day and starts the next.
func (l *ledger) close(scratch []float64) Shortage {
	s := summarise(l.day, l.firstDay, scratch)
	clear(l.day)
	for i := range l.firstDay {
		l.firstDay[i] = -1
	}
	return s
}
