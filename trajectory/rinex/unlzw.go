package rinex

import (
	"bufio"
	"errors"
	"io"
)

// lzwReader decodes the .Z files of the Unix program compress: LZW with codes
// of 9 to 16 bits, least significant bit first, in groups of eight codes, code
// 256 clearing the table in block mode. The standard library's LZW is that of
// GIF and TIFF, which group and clear otherwise.
//
// Source: the layout is that of the Open Group's description of compress and
// of public decoders, from memory; checked on files of the open data set.
type lzwReader struct {
	r       *bufio.Reader
	maxBits uint
	block   bool
	prefix  [1 << 16]uint16
	suffix  [1 << 16]byte
	next    int // next free code
	bits    uint
	old     int // code before, -1 at the start and after a clear
	first   byte
	stack   []byte // decoded bytes, last first
	group   []byte // bytes of the group of eight codes
	gbuf    [16]byte
	bitPos  uint
	err     error
}

var errLZW = errors.New(".Z data are damaged")

func newLZWReader(r io.Reader) (*lzwReader, error) {
	br := bufio.NewReader(r)
	var h [3]byte
	if _, err := io.ReadFull(br, h[:]); err != nil {
		return nil, errLZW
	}
	z := &lzwReader{r: br, maxBits: uint(h[2] & 0x1f), block: h[2]&0x80 != 0, bits: 9, old: -1, next: 256}
	if h[0] != 0x1f || h[1] != 0x9d || z.maxBits < 9 || z.maxBits > 16 {
		return nil, errLZW
	}
	if z.block {
		z.next = 257
	}
	for i := range 256 {
		z.suffix[i] = byte(i)
	}
	return z, nil
}

func (z *lzwReader) Read(p []byte) (int, error) {
	n := 0
	for n < len(p) {
		if k := len(z.stack); k > 0 {
			p[n] = z.stack[k-1]
			z.stack = z.stack[:k-1]
			n++
			continue
		}
		if z.err == nil {
			z.err = z.step()
		}
		if z.err != nil && len(z.stack) == 0 {
			if n > 0 {
				return n, nil
			}
			return 0, z.err
		}
	}
	return n, nil
}

// code reads the next code; groups of eight codes start on a byte.
func (z *lzwReader) code() (int, error) {
	if z.bitPos+z.bits > uint(len(z.group))*8 {
		k, err := io.ReadFull(z.r, z.gbuf[:z.bits])
		z.group, z.bitPos = z.gbuf[:k], 0
		if uint(k)*8 < z.bits {
			if err == io.ErrUnexpectedEOF {
				err = io.EOF // padding bits
			}
			return 0, err
		}
	}
	v := 0
	for i := range z.bits {
		b := z.bitPos + i
		v |= int(z.group[b/8]>>(b%8)&1) << i
	}
	z.bitPos += z.bits
	return v, nil
}

// step decodes one code onto the stack.
func (z *lzwReader) step() error {
	if z.next >= 1<<z.bits && z.bits < z.maxBits {
		z.bits++
		z.group = nil
		z.bitPos = 0
	}
	c, err := z.code()
	if err != nil {
		return err
	}
	if c == 256 && z.block {
		z.bits, z.next, z.old, z.group, z.bitPos = 9, 257, -1, nil, 0
		return nil
	}
	if z.old < 0 {
		if c > 255 {
			return errLZW
		}
		z.first, z.old = byte(c), c
		z.stack = append(z.stack, byte(c))
		return nil
	}
	in := c
	if c >= z.next {
		if c > z.next || z.next >= 1<<z.maxBits {
			return errLZW
		}
		z.stack = append(z.stack, z.first)
		c = z.old
	}
	for c > 255 {
		z.stack = append(z.stack, z.suffix[c])
		c = int(z.prefix[c])
	}
	z.first = byte(c)
	z.stack = append(z.stack, z.first)
	if z.next < 1<<z.maxBits {
		z.prefix[z.next], z.suffix[z.next] = uint16(z.old), z.first
		z.next++
	}
	z.old = in
	return nil
}
