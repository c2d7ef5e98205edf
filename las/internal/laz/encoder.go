package laz

import (
	"errors"
	"fmt"
)

// Encoder encodes chunks of one file. It may be used again and again, by one
// goroutine at a time.
type Encoder struct {
	vlr    *VLR
	length int
	pool   modelPool
}

// NewEncoder returns an encoder for the chunks of a file with this VLR, whose
// records have recordLength bytes.
func NewEncoder(v *VLR, recordLength int) (*Encoder, error) {
	if err := v.check(); err != nil {
		return nil, err
	}
	if n := v.RecordLength(); n != recordLength {
		return nil, fmt.Errorf("laz: the items of the LASzip VLR add up to %d bytes, the records have %d", n, recordLength)
	}
	return &Encoder{vlr: v, length: recordLength}, nil
}

// Encode appends to dst one chunk that holds the given records, at least one.
func (e *Encoder) Encode(dst []byte, records []byte) ([]byte, error) {
	return dst, errors.New("laz: the encoder is being written")
}
