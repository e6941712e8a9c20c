package forecast

import (
	"encoding/binary"
	"errors"
	"math"
)

// Trees have a compact binary encoding: with gob's default, decoding them would dominate the time to read a state. That of a forest's tree
// is smaller still, as its leaves are numbered in the order in which they are met, depth first, and its children lie in that order too: a
// feature and a bin for each node suffice. Its length is odd, that of others a multiple of eight, as in states of version 5 and before.

const (
	nodeBytes  = 8
	forestTree = 1    // first byte of the compact form
	leafMark   = 0xff // in place of the feature
)

// GobEncode encodes the nodes.
func (t tree) GobEncode() ([]byte, error) {
	b := make([]byte, 1, 2*len(t)+1)
	b[0] = forestTree
	for _, n := range t {
		if n.Left == 0 {
			n.Feature, n.Bin = leafMark, 0
		}
		b = append(b, n.Feature, n.Bin)
	}
	if again, err := forestTreeOf(b); err == nil && equalTrees(t, again) {
		return b, nil
	}
	b = make([]byte, 0, nodeBytes*len(t))
	for _, n := range t {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(n.Value))
		b = binary.LittleEndian.AppendUint16(b, n.Left)
		b = append(b, n.Feature, n.Bin)
	}
	return b, nil
}

// equalTrees compares what a tree decides by: the split of a leaf says nothing, nor does the value of another node.
func equalTrees(a, b tree) bool {
	if len(a) != len(b) {
		return false
	}
	for i, x := range a {
		y := b[i]
		if x.Left != y.Left || x.Left == 0 && x.Value != y.Value || x.Left != 0 && (x.Feature != y.Feature || x.Bin != y.Bin) {
			return false
		}
	}
	return true
}

// GobDecode decodes the nodes, and rejects a tree with invalid child indexes.
func (t *tree) GobDecode(b []byte) (err error) {
	if len(b)%2 == 1 {
		*t, err = forestTreeOf(b)
		return err
	}
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

// forestTreeOf decodes the compact form.
func forestTreeOf(b []byte) (tree, error) {
	n := len(b) / 2
	if len(b)%2 != 1 || n == 0 || n > math.MaxUint16 || b[0] != forestTree {
		return nil, errors.New("tree of a forest is truncated")
	}
	t := make(tree, n)
	next, leaves := 1, 0
	open := make([]int, 1, 32) // nodes to visit, the last one first
	for len(open) > 0 {
		i := open[len(open)-1]
		open = open[:len(open)-1]
		feature, bin := b[1+2*i], b[2+2*i]
		if feature == leafMark {
			t[i].Value = float32(leaves)
			leaves++
			continue
		}
		if next+1 >= n {
			return nil, errors.New("tree of a forest has too few nodes")
		}
		t[i] = node{Left: uint16(next), Feature: feature, Bin: bin}
		open = append(open, next+1, next)
		next += 2
	}
	if next != n {
		return nil, errors.New("tree of a forest has too many nodes")
	}
	return t, nil
}

// ranks are numbers of days.
type ranks []uint16

// maxByteLeaves is the number of leaves that have numbers of one byte.
const maxByteLeaves = 256

// leaves is the number of leaves if r are the groups of a forest's tree: the offsets of the leaves' days and their end, then the days, each
// once; 0 if they are not.
func (r ranks) leaves() int {
	for l := 1; l < len(r) && l <= maxByteLeaves; l++ {
		if int(r[l]) == len(r)-l-1 {
			return l
		}
	}
	return 0
}

// GobEncode encodes groups as the leaf of each day, in a byte each, and pads to an odd length; other ranks, and those of states of version 5
// and before, have two bytes each.
func (r ranks) GobEncode() ([]byte, error) {
	if l := r.leaves(); l > 0 {
		n := len(r) - l - 1
		b := make([]byte, 4+n, 5+n)
		binary.LittleEndian.PutUint16(b, uint16(l))
		binary.LittleEndian.PutUint16(b[2:], uint16(n))
		seen := make([]bool, n)
		whole := r[0] == 0
		for leaf := 0; whole && leaf < l; leaf++ {
			for k := int(r[leaf]); whole && k < int(r[leaf+1]); k++ {
				day := int(r[l+1+k])
				if whole = day < n && !seen[day]; whole {
					seen[day], b[4+day] = true, byte(leaf)
				}
			}
		}
		if whole {
			if len(b)%2 == 0 {
				b = append(b, 0)
			}
			return b, nil
		}
	}
	b := make([]byte, 0, 2*len(r))
	for _, x := range r {
		b = binary.LittleEndian.AppendUint16(b, x)
	}
	return b, nil
}

// GobDecode decodes them.
func (r *ranks) GobDecode(b []byte) error {
	if len(b)%2 == 1 {
		return r.decodeGroups(b)
	}
	*r = make(ranks, len(b)/2)
	for i := range *r {
		(*r)[i] = binary.LittleEndian.Uint16(b[2*i:])
	}
	return nil
}

func (r *ranks) decodeGroups(b []byte) error {
	if len(b) < 5 {
		return errors.New("groups of a forest are truncated")
	}
	l, n := int(binary.LittleEndian.Uint16(b)), int(binary.LittleEndian.Uint16(b[2:]))
	if l < 1 || l > maxByteLeaves || len(b) < 4+n || len(b) > 5+n {
		return errors.New("groups of a forest are truncated")
	}
	out := make(ranks, l+1+n)
	for _, leaf := range b[4 : 4+n] {
		if int(leaf) >= l {
			return errors.New("groups of a forest have an invalid leaf")
		}
		out[leaf+1]++
	}
	for i := range l {
		out[i+1] += out[i]
	}
	var at [maxByteLeaves]uint16
	copy(at[:l], out[:l])
	for day, leaf := range b[4 : 4+n] {
		out[l+1+int(at[leaf])] = uint16(day)
		at[leaf]++
	}
	*r = out
	return nil
}
