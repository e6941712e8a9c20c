package forecast

import (
	"bytes"
	"cmp"
	"compress/flate"
	"encoding/binary"
	"encoding/gob"
	"errors"
	"fmt"
	"math"
	"strings"

	"hotday/models"
)

// stored is the encoding of State. Its field names, and those of the types in it, must not change.
type stored struct {
	Version     int
	First       models.Date
	Last        int
	Climate     climate
	Sizes       [6]int
	Fitted      *learners
	Grown       int
	GrownForest []int
	Trials      []backtest // in states of version 6 and before
	Calibration calibration
	Tails       []tail
	Effects     map[string]effect
	Holidays    int
	Days        []uint64
	Labelled    bool
	Facts       []Note // earlier states have Notes instead, in English, which are dropped
	Shifts      []shift
	Together    Together
	HolidayOwn  []float64
	TrialQ      []byte // of version 6: the quantiles of the forests in Trials, see readQuantiles; Trials have their own in states of version 5 and before
}

// stateVersion is raised when a state can no longer be read by earlier versions, oldestVersion when this one can no longer read
// earlier states; then the next night fits from scratch.
const (
	stateVersion  = 7
	oldestVersion = 4
)

// keyOf is the key under which the state holds a series.
func (st *State) keyOf(k SeriesKey) SeriesKey {
	if st.labelled {
		return SeriesKey{Drink: k.label()}
	}
	return k
}

// packedState is the first byte of states of version 7 and later; no flate stream begins with it.
const packedState = 0x07

// MarshalBinary encodes the state: packedState, then the length of all but the forests and backtests, as gob and flate, and that; then
// the forests and backtests, packed.
func (st *State) MarshalBinary() ([]byte, error) {
	var b bytes.Buffer
	z, err := flate.NewWriter(&b, flate.BestSpeed)
	if err != nil {
		return nil, fmt.Errorf("write the forecast's state: %w", err)
	}
	s := st.size
	p := &packer{}
	fitted := st.learners
	if fitted != nil {
		bare := *fitted
		bare.Forests = p.packForests(fitted.Forests)
		fitted = &bare
	}
	p.packBacktests(st.backtests)
	err = gob.NewEncoder(z).Encode(stored{Version: stateVersion, First: st.first, Last: st.last, Climate: st.climate, Sizes: [6]int{s.blocks, s.backtestTrees, s.trees, s.backtestRows, s.rows, s.forestEvery},
		Fitted: fitted, Grown: st.grown, GrownForest: st.grownForest, Calibration: st.calibration, Tails: st.tails, Effects: st.effects, Holidays: st.holidays, Days: st.digests, Labelled: st.labelled,
		Facts: st.notes, Shifts: st.shifts, Together: st.together, HolidayOwn: st.holidayOwn})
	if err == nil {
		err = z.Close()
	}
	if err != nil {
		return nil, fmt.Errorf("write the forecast's state: %w", err)
	}
	out := binary.AppendUvarint([]byte{packedState}, uint64(b.Len()))
	return append(append(out, b.Bytes()...), p.out...), nil
}

// UnmarshalBinary decodes a state. It returns an error for a version it cannot read; then fit from scratch.
func (st *State) UnmarshalBinary(b []byte) error {
	var s stored
	u := &unpacker{}
	if len(b) > 0 && b[0] == packedState {
		u.in = b[1:]
		b = u.take(u.uvarint())
	}
	if err := cmp.Or(u.err, gob.NewDecoder(flate.NewReader(bytes.NewReader(b))).Decode(&s)); err != nil {
		return fmt.Errorf("read the forecast's state: %w", err)
	}
	if s.Version < oldestVersion || s.Version > stateVersion {
		return fmt.Errorf("read the forecast's state: version %d is not %d to %d", s.Version, oldestVersion, stateVersion)
	}
	if s.Version == 4 {
		s.Labelled = true
		for i := range s.Tails {
			s.Tails[i].Key, s.Tails[i].Name = SeriesKey{Drink: s.Tails[i].Name}, ""
		}
	}
	for i := range s.Tails {
		s.Tails[i].readOdd()
	}
	if s.Version >= 7 {
		if s.Fitted != nil {
			u.unpackForests(s.Fitted.Forests)
		}
		s.Trials = u.unpackBacktests()
	} else {
		u.err = readQuantiles(s.Trials, s.TrialQ)
	}
	if u.err != nil {
		return fmt.Errorf("read the forecast's state: %w", u.err)
	}
	z := s.Sizes
	*st = State{first: s.First, last: s.Last, climate: s.Climate, size: sizes{z[0], z[1], z[2], z[3], z[4], z[5]}, learners: s.Fitted, grown: s.Grown,
		grownForest: s.GrownForest, backtests: s.Trials, calibration: s.Calibration, tails: s.Tails, notes: s.Facts, effects: s.Effects, holidays: s.Holidays, digests: s.Days, labelled: s.Labelled, shifts: s.Shifts, together: s.Together, holidayOwn: s.HolidayOwn}
	return nil
}

// readQuantiles puts the forests' quantiles into the backtests of a state of version 6: for each backtest and forest, a byte that is 1 if
// there are any, the highest in four bytes, and all of them as parts of it. packed is empty in states of version 5 and before.
func readQuantiles(backtests []backtest, packed []byte) error {
	if len(packed) == 0 {
		return nil
	}
	for i := range backtests {
		for _, q := range [2]*[]float32{&backtests[i].View.Forest, &backtests[i].View.Led} {
			switch {
			case len(packed) < 1 || packed[0] == 1 && len(packed) < 5+gridSize:
				return errors.New("quantiles are truncated")
			case packed[0] == 0:
				packed = packed[1:]
				continue
			}
			top := math.Float32frombits(binary.LittleEndian.Uint32(packed[1:]))
			*q = make([]float32, gridSize)
			for k, part := range packed[5 : 5+gridSize] {
				(*q)[k] = top * float32(part) / quantileSteps
			}
			packed = packed[5+gridSize:]
		}
	}
	return nil
}

// readOdd reads the outliers out of the English sentence of earlier states: "1 day (2026-07-04) lies …", or "3 days (the last
// 2026-07-04) lie …".
func (t *tail) readOdd() {
	if n, err := fmt.Sscanf(t.Odd, "%d day", &t.Capped); n < 1 || err != nil {
		t.Odd = ""
		return
	}
	if _, rest, ok := strings.Cut(t.Odd, "("); ok {
		date, _, _ := strings.Cut(rest, ")")
		t.CappedLast = models.Date(strings.TrimPrefix(date, "the last "))
	}
	t.Odd = ""
}
