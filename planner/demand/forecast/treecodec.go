package forecast

import (
	"encoding/binary"
	"errors"
	"math"
)

// Trees have a compact binary encoding: with gob's default, decoding them would dominate the time to read a state.

const nodeBytes = 8

// GobEncode encodes the nodes.
func (t tree) GobEncode() ([]byte, error) {
	b := make([]byte, 0, nodeBytes*len(t))
	for _, n := range t {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(n.Value))
		b = binary.LittleEndian.AppendUint16(b, n.Left)
		b = append(b, n.Feature, n.Bin)
	}
	return b, nil
}

// GobDecode decodes the nodes, and rejects a tree with invalid child indexes.
func (t *tree) GobDecode(b []byte) error {
	n := len(b) / nodeBytes
	if len(b)%nodeBytes != 0 || n == 0 {
		return errors.New("tree is truncated")
	}
	*t = make(tree, n)
	for i := range *t {
		x := b[i*nodeBytes:]
		left := binary.LittleEndian.Uint16(x[4:])
		if left > 0 && (int(left) <= i || int(left)+1 >= n) {
			return errors.New("tree has invalid child indexes")
		}
		(*t)[i] = node{Value: math.Float32frombits(binary.LittleEndian.Uint32(x)), Left: left, Feature: x[6], Bin: x[7]}
	}
	return nil
}

// ranks are numbers of days.
type ranks []uint16

// GobEncode encodes the numbers in two bytes each.
func (r ranks) GobEncode() ([]byte, error) {
	b := make([]byte, 0, 2*len(r))
	for _, x := range r {
		b = binary.LittleEndian.AppendUint16(b, x)
	}
	return b, nil
}

// GobDecode decodes them.
func (r *ranks) GobDecode(b []byte) error {
	if len(b)%2 != 0 {
		return errors.New("ranks are truncated")
	}
	*r = make(ranks, len(b)/2)
	for i := range *r {
		(*r)[i] = binary.LittleEndian.Uint16(b[2*i:])
	}
	return nil
}
