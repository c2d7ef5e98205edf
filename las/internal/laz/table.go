package laz

import (
	"encoding/binary"
	"fmt"
)

// Chunk is an entry of the chunk table.
type Chunk struct {
	Points uint32 // 0 when the chunk size is fixed: the VLR and the header tell
	Bytes  uint32
}

const tableHeader = 8

// ParseTable reads a chunk table from b, which starts at the table and may go on
// behind it. variable says that the table holds the points of every chunk (see
// VLR.Variable). A table of more than max chunks is refused: chunks have at least
// one byte, so the bytes between the first chunk and the table are such a limit.
func ParseTable(b []byte, variable bool, max int) ([]Chunk, error) {
	if len(b) < tableHeader {
		return nil, fmt.Errorf("laz: chunk table: %w", ErrTruncated)
	}
	if v := binary.LittleEndian.Uint32(b); v != 0 {
		return nil, fmt.Errorf("laz: chunk table has unknown version %d", v)
	}
	n := binary.LittleEndian.Uint32(b[4:])
	if n == 0 {
		return nil, nil
	}
	if int64(n) > int64(max) {
		return nil, fmt.Errorf("laz: chunk table names %d chunks, the file has room for %d: %w", n, max, ErrCorrupt)
	}
	var ic integer
	ic.reset(&modelPool{search: true}, 32)
	var c decoder
	c.start(b[tableHeader:])
	var last Chunk
	var chunks []Chunk
	for i := range n {
		if variable {
			last.Points = uint32(ic.decode(&c, int32(last.Points), 0))
		}
		last.Bytes = uint32(ic.decode(&c, int32(last.Bytes), 1))
		if c.over() {
			if err := c.check(); err != nil {
				return chunks, fmt.Errorf("laz: chunk table, entry %d of %d: %w", i, n, err)
			}
		}
		if last.Bytes == 0 {
			return chunks, fmt.Errorf("laz: chunk table, entry %d of %d has no bytes: %w", i, n, ErrCorrupt)
		}
		chunks = append(chunks, last)
	}
	return chunks, nil
}

// AppendTable appends to dst the chunk table of these chunks; variable says that
// it shall hold the points of each.
func AppendTable(dst []byte, c []Chunk, variable bool) []byte {
	dst = binary.LittleEndian.AppendUint32(dst, 0)
	dst = binary.LittleEndian.AppendUint32(dst, uint32(len(c)))
	if len(c) == 0 {
		return dst
	}
	var ic integer
	ic.reset(&modelPool{}, 32)
	var e encoder
	e.start(dst, len(dst))
	var last Chunk
	for _, chunk := range c {
		e.room(layerSlack)
		if variable {
			ic.encode(&e, int32(last.Points), int32(chunk.Points), 0)
		}
		ic.encode(&e, int32(last.Bytes), int32(chunk.Bytes), 1)
		last = chunk
	}
	return e.finish()
}
