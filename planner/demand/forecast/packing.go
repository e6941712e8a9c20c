package forecast

import (
	"encoding/binary"
	"errors"
	"fmt"

	"github.com/klauspost/compress/huff0"
)

// Packed bytes are Huffman coded in blocks, each with codes of its own. Values of one kind are packed together, as the codes then fit
// them best.

// packedBlock is the length of a block.
const packedBlock = 1 << 16

// How a block is coded.
const (
	plainBlock   = iota // as it is
	oneByteBlock        // all bytes are the same
	huffmanBlock
)

// mostPacked bounds what a damaged length can make unpack allocate.
const mostPacked = 1 << 26

// packer writes packed bytes.
type packer struct {
	out     []byte
	scratch huff0.Scratch
}

// add appends src, packed.
func (p *packer) add(src []byte) {
	p.out = binary.AppendUvarint(p.out, uint64(len(src)))
	for len(src) > 0 {
		block := src[:min(len(src), packedBlock)]
		src = src[len(block):]
		p.scratch.Reuse = huff0.ReusePolicyNone
		coded, _, err := huff0.Compress1X(block, &p.scratch)
		switch {
		case err == nil:
			p.out = binary.AppendUvarint(append(p.out, huffmanBlock), uint64(len(coded)))
			p.out = append(p.out, coded...)
		case errors.Is(err, huff0.ErrUseRLE):
			p.out = append(p.out, oneByteBlock, block[0])
		default:
			p.out = append(append(p.out, plainBlock), block...)
		}
	}
}

// unpacker reads what packer wrote. After an error it returns nothing more.
type unpacker struct {
	in      []byte
	err     error
	scratch *huff0.Scratch
}

func (u *unpacker) fail(err error) {
	if u.err == nil {
		u.err = err
	}
	u.in = nil
}

func (u *unpacker) uvarint() int {
	x, n := binary.Uvarint(u.in)
	if n <= 0 || x > mostPacked {
		u.fail(errors.New("a number is truncated"))
		return 0
	}
	u.in = u.in[n:]
	return int(x)
}

func (u *unpacker) take(n int) []byte {
	if n > len(u.in) {
		u.fail(errors.New("bytes are truncated"))
		return make([]byte, n)
	}
	b := u.in[:n]
	u.in = u.in[n:]
	return b
}

// next returns the next packed bytes.
func (u *unpacker) next() []byte {
	n := u.uvarint()
	out := make([]byte, 0, n)
	for len(out) < n && u.err == nil {
		size := min(n-len(out), packedBlock)
		switch how := u.take(1)[0]; how {
		case plainBlock:
			out = append(out, u.take(size)...)
		case oneByteBlock:
			b := u.take(1)[0]
			for range size {
				out = append(out, b)
			}
		case huffmanBlock:
			out = u.huffman(out, size)
		default:
			u.fail(fmt.Errorf("a block is coded in an unknown way: %d", how))
		}
	}
	return out
}

// huffman appends a block of a size to out.
func (u *unpacker) huffman(out []byte, size int) []byte {
	coded := u.take(u.uvarint())
	if u.err != nil {
		return out
	}
	s, rest, err := huff0.ReadTable(coded, u.scratch)
	if err == nil {
		u.scratch = s
		var block []byte
		end := len(out) + size
		block, err = s.Decoder().Decompress1X(out[len(out):len(out):end], rest)
		if err == nil && len(block) == size {
			return out[:end]
		}
	}
	u.fail(fmt.Errorf("a block is damaged: %w", err))
	return out
}

// stream reads bytes one by one.
type stream struct {
	b    []byte
	from *unpacker
}

func (s *stream) byte() byte {
	if len(s.b) == 0 {
		s.from.fail(errors.New("values are missing"))
		return 0
	}
	x := s.b[0]
	s.b = s.b[1:]
	return x
}

func (s *stream) take(n int) []byte {
	if n > len(s.b) {
		s.from.fail(errors.New("values are missing"))
		return make([]byte, n)
	}
	x := s.b[:n]
	s.b = s.b[n:]
	return x
}

func (s *stream) uvarint() int {
	x, n := binary.Uvarint(s.b)
	if n <= 0 || x > mostPacked {
		s.from.fail(errors.New("values are missing"))
		return 0
	}
	s.b = s.b[n:]
	return int(x)
}

func (s *stream) varint() int {
	x, n := binary.Varint(s.b)
	if n <= 0 || x > mostPacked || x < -mostPacked {
		s.from.fail(errors.New("values are missing"))
		return 0
	}
	s.b = s.b[n:]
	return int(x)
}

// streams are packed one after the other.
type streams [][]byte

func (p *packer) addAll(list streams) {
	for _, s := range list {
		p.add(s)
	}
}

func (u *unpacker) nextAll(n int) []stream {
	out := make([]stream, n)
	for i := range out {
		out[i] = stream{u.next(), u}
	}
	return out
}
