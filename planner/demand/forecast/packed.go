package forecast

import (
	"encoding/binary"
	"errors"
	"math"
)

// Trees are written packed: field by field they take most of the time that a state takes to read.

const nodeBytes = 8

// GobEncode packs the nodes.
func (t tree) GobEncode() ([]byte, error) {
	b := make([]byte, 0, nodeBytes*len(t))
	for _, n := range t {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(n.Value))
		b = binary.LittleEndian.AppendUint16(b, n.Left)
		b = append(b, n.Feature, n.Bin)
	}
	return b, nil
}

// GobDecode unpacks nodes and refuses a tree that cannot be walked.
func (t *tree) GobDecode(b []byte) error {
	n := len(b) / nodeBytes
	if len(b)%nodeBytes != 0 || n == 0 {
		return errors.New("a tree is cut off")
	}
	*t = make(tree, n)
	for i := range *t {
		x := b[i*nodeBytes:]
		left := binary.LittleEndian.Uint16(x[4:])
		if left > 0 && (int(left) <= i || int(left)+1 >= n) {
			return errors.New("a tree does not hold together")
		}
		(*t)[i] = node{Value: math.Float32frombits(binary.LittleEndian.Uint32(x)), Left: left, Feature: x[6], Bin: x[7]}
	}
	return nil
}

// ranks are numbers of days, packed.
type ranks []uint16

// GobEncode packs the numbers.
func (r ranks) GobEncode() ([]byte, error) {
	b := make([]byte, 0, 2*len(r))
	for _, x := range r {
		b = binary.LittleEndian.AppendUint16(b, x)
	}
	return b, nil
}

// GobDecode unpacks them.
func (r *ranks) GobDecode(b []byte) error {
	if len(b)%2 != 0 {
		return errors.New("ranks are cut off")
	}
	*r = make(ranks, len(b)/2)
	for i := range *r {
		(*r)[i] = binary.LittleEndian.Uint16(b[2*i:])
	}
	return nil
}
