package forecast

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"encoding/gob"
	"errors"
	"fmt"
	"math"
	"slices"
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
	Trials      []backtest
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
	TrialQ      []byte // the quantiles of the forests in Trials, see packQuantiles; Trials have their own in states of version 5 and before
}

// stateVersion is raised when a state can no longer be read by earlier versions, oldestVersion when this one can no longer read
// earlier states; then the next night fits from scratch.
const (
	stateVersion  = 6
	oldestVersion = 4
)

// keyOf is the key under which the state holds a series.
func (st *State) keyOf(k SeriesKey) SeriesKey {
	if st.labelled {
		return SeriesKey{Drink: k.label()}
	}
	return k
}

// MarshalBinary encodes the state with gob and flate, trees and backtests in compact forms of their own.
func (st *State) MarshalBinary() ([]byte, error) {
	var b bytes.Buffer
	z, err := flate.NewWriter(&b, flate.BestSpeed)
	if err != nil {
		return nil, fmt.Errorf("write the forecast's state: %w", err)
	}
	s := st.size
	trials, packed := packQuantiles(st.backtests)
	err = gob.NewEncoder(z).Encode(stored{stateVersion, st.first, st.last, st.climate, [6]int{s.blocks, s.backtestTrees, s.trees, s.backtestRows, s.rows, s.forestEvery},
		st.learners, st.grown, st.grownForest, trials, st.calibration, st.tails, st.effects, st.holidays, st.digests, st.labelled, st.notes, st.shifts, st.together, st.holidayOwn, packed})
	if err == nil {
		err = z.Close()
	}
	if err != nil {
		return nil, fmt.Errorf("write the forecast's state: %w", err)
	}
	return b.Bytes(), nil
}

// UnmarshalBinary decodes a state. It returns an error for a version it cannot read; then fit from scratch.
func (st *State) UnmarshalBinary(b []byte) error {
	var s stored
	if err := gob.NewDecoder(flate.NewReader(bytes.NewReader(b))).Decode(&s); err != nil {
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
	if err := unpackQuantiles(s.Trials, s.TrialQ); err != nil {
		return fmt.Errorf("read the forecast's state: %w", err)
	}
	z := s.Sizes
	*st = State{first: s.First, last: s.Last, climate: s.Climate, size: sizes{z[0], z[1], z[2], z[3], z[4], z[5]}, learners: s.Fitted, grown: s.Grown,
		grownForest: s.GrownForest, backtests: s.Trials, calibration: s.Calibration, tails: s.Tails, notes: s.Facts, effects: s.Effects, holidays: s.Holidays, digests: s.Days, labelled: s.Labelled, shifts: s.Shifts, together: s.Together, holidayOwn: s.HolidayOwn}
	return nil
}

// quantileSteps is the resolution of packed quantiles, in parts of the highest one.
const quantileSteps = math.MaxUint8

// packQuantiles returns the backtests without the forests' quantiles, and those in a byte each, as parts of the highest: for each backtest
// and forest, a byte that is 1 if there are any, the highest in four bytes, and all of them.
func packQuantiles(backtests []backtest) (bare []backtest, packed []byte) {
	bare = slices.Clone(backtests)
	for i := range bare {
		for _, q := range [2]*[]float32{&bare[i].View.Forest, &bare[i].View.Led} {
			if len(*q) != gridSize {
				packed = append(packed, 0)
				*q = nil
				continue
			}
			top := (*q)[gridSize-1]
			packed = binary.LittleEndian.AppendUint32(append(packed, 1), math.Float32bits(top))
			for _, x := range *q {
				part := byte(0)
				if top > 0 {
					part = byte(math.Round(float64(max(0, min(1, x/top))) * quantileSteps))
				}
				packed = append(packed, part)
			}
			*q = nil
		}
	}
	return bare, packed
}

// unpackQuantiles puts packed quantiles back; packed is empty in states of version 5 and before.
func unpackQuantiles(backtests []backtest, packed []byte) error {
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
