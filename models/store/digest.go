package store

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math"
)

// digest tells sets of rows apart, whatever their order: it is the sum of the hashes of the rows.
type digest struct {
	sum  [sha256.Size]byte
	rows int64
}

// add adds a row. The same values have the same digest in every database.
func (d *digest) add(values []any) error {
	h := sha256.New()
	for _, v := range values {
		switch v := v.(type) {
		case nil:
			h.Write([]byte{0})
		case bool:
			h.Write([]byte{1, map[bool]byte{true: 1}[v]})
		case int64:
			h.Write(binary.BigEndian.AppendUint64([]byte{2}, uint64(v))) //nolint:gosec // its bits
		case float64:
			h.Write(binary.BigEndian.AppendUint64([]byte{3}, math.Float64bits(v)))
		case string:
			h.Write(append(binary.BigEndian.AppendUint64([]byte{4}, uint64(len(v))), v...))
		case []byte:
			h.Write(append(binary.BigEndian.AppendUint64([]byte{5}, uint64(len(v))), v...))
		default:
			return fmt.Errorf("a value of type %T cannot be compared", v)
		}
	}
	carry := 0
	for i, b := range h.Sum(nil) {
		carry += int(d.sum[i]) + int(b)
		d.sum[i] = byte(carry)
		carry >>= 8
	}
	d.rows++
	return nil
}
