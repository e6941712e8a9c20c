package forecast

import (
	"encoding/binary"
	"math"
)

// Streams of packed backtests.
const (
	backtestFlags = iota
	backtestSeries
	backtestDays // from the one before
	backtestY
	backtestWide                      // float64s: of demand that isn't a small whole number, new scales and temperatures
	backtestMeans                     // three bytes of each mean
	backtestTops  = backtestMeans + 3 // four bytes of each highest quantile
	backtestParts = backtestTops + 4  // differences between quantiles, by level
	backtestAll   = backtestParts + gridSize
)

// Flags of a packed backtest.
const (
	isPart = 1 << iota
	hasForest
	hasLed
	wholeY
	knownScale // that of the series' backtest before
	knownTemp  // that of another series on the day
)

// packBacktests packs backtests. The means are rounded to 12 binary digits, the quantiles of the forests to parts of the highest.
func (p *packer) packBacktests(list []backtest) {
	out := make(streams, backtestAll)
	scales, temps := map[int]float64{}, map[int]float64{}
	wide := func(x float64) {
		out[backtestWide] = binary.LittleEndian.AppendUint64(out[backtestWide], math.Float64bits(x))
	}
	day := 0
	for i := range list {
		b := &list[i]
		flags := byte(0)
		set := func(flag byte, on bool) bool {
			if on {
				flags |= flag
			}
			return on
		}
		set(isPart, b.Part)
		out[backtestSeries] = binary.AppendUvarint(out[backtestSeries], uint64(b.Series))
		out[backtestDays] = binary.AppendVarint(out[backtestDays], int64(b.Day-day))
		day = b.Day
		if set(wholeY, b.Y >= 0 && b.Y <= math.MaxUint16 && b.Y == math.Trunc(b.Y)) {
			out[backtestY] = binary.AppendUvarint(out[backtestY], uint64(b.Y))
		} else {
			wide(b.Y)
		}
		if !set(knownScale, same(scales, b.Series, b.Scale)) {
			wide(b.Scale)
		}
		if !set(knownTemp, same(temps, b.Day, b.Temp)) {
			wide(b.Temp)
		}
		for _, mean := range [2]float64{b.View.Regression, b.View.Boosting} {
			bits := (math.Float32bits(float32(mean)) + 1<<11) >> 12 << 12
			for k := range 3 {
				out[backtestMeans+k] = append(out[backtestMeans+k], byte(bits>>(8*k+8)))
			}
		}
		set(hasForest, packQuantiles(out, b.View.Forest))
		set(hasLed, packQuantiles(out, b.View.Led))
		out[backtestFlags] = append(out[backtestFlags], flags)
	}
	p.addAll(out)
}

// same reports whether a key has a value already, to the bit, and sets it.
func same(known map[int]float64, key int, x float64) bool {
	was, ok := known[key]
	known[key] = x
	return ok && math.Float64bits(was) == math.Float64bits(x)
}

// quantileSteps is the resolution of packed quantiles, in parts of the highest one.
const quantileSteps = math.MaxUint8

// packQuantiles packs the quantiles of a forest; false if it has none.
func packQuantiles(out streams, q []float32) bool {
	if len(q) != gridSize {
		return false
	}
	top := q[gridSize-1]
	for k := range 4 {
		out[backtestTops+k] = append(out[backtestTops+k], byte(math.Float32bits(top)>>(8*k)))
	}
	last := byte(0)
	for k, x := range q {
		part := byte(0)
		if top > 0 {
			part = byte(math.Round(float64(max(0, min(1, x/top))) * quantileSteps))
		}
		out[backtestParts+k] = append(out[backtestParts+k], part-last)
		last = part
	}
	return true
}

// unpackBacktests reads what packBacktests wrote.
func (u *unpacker) unpackBacktests() []backtest {
	in := u.nextAll(backtestAll)
	scales, temps := map[int]float64{}, map[int]float64{}
	wide := func() float64 {
		return math.Float64frombits(binary.LittleEndian.Uint64(in[backtestWide].take(8)))
	}
	var out []backtest
	day := 0
	for _, flags := range in[backtestFlags].b {
		b := backtest{Part: flags&isPart > 0, Series: in[backtestSeries].uvarint()}
		day += in[backtestDays].varint()
		b.Day = day
		if flags&wholeY > 0 {
			b.Y = float64(in[backtestY].uvarint())
		} else {
			b.Y = wide()
		}
		if flags&knownScale == 0 {
			scales[b.Series] = wide()
		}
		if flags&knownTemp == 0 {
			temps[b.Day] = wide()
		}
		b.Scale, b.Temp = scales[b.Series], temps[b.Day]
		for _, mean := range [2]*float64{&b.View.Regression, &b.View.Boosting} {
			bits := uint32(0)
			for k := range 3 {
				bits |= uint32(in[backtestMeans+k].byte()) << (8*k + 8)
			}
			*mean = float64(math.Float32frombits(bits))
		}
		if flags&hasForest > 0 {
			b.View.Forest = unpackQuantiles(in)
		}
		if flags&hasLed > 0 {
			b.View.Led = unpackQuantiles(in)
		}
		if u.err != nil {
			return nil
		}
		out = append(out, b)
	}
	return out
}

func unpackQuantiles(in []stream) []float32 {
	bits := uint32(0)
	for k := range 4 {
		bits |= uint32(in[backtestTops+k].byte()) << (8 * k)
	}
	top, part := math.Float32frombits(bits), byte(0)
	q := make([]float32, gridSize)
	for k := range q {
		part += in[backtestParts+k].byte()
		q[k] = top * float32(part) / quantileSteps
	}
	return q
}
