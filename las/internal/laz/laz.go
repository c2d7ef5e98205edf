// Package laz is the codec of the LAZ format: it turns the bytes of one
// compressed chunk into point records and point records into the bytes of one
// chunk. It reads and writes the LASzip VLR and the chunk table as well.
//
// Vocabulary. An item is a part of the point record that is predicted and coded
// as a unit (POINT10, GPSTIME11, RGB12, ...), in one of several versions. A
// chunk is a run of points that can be decoded without the others. In a
// pointwise chunk (compressors 1 and 2) all items share one arithmetic-coded
// stream; in a layered chunk (compressor 3, point formats 6 to 10) each item has
// one stream or more of its own, the layers, and layers can be skipped.
// Compressor 1 has a single chunk that holds all points.
//
// Records are the bytes of LAS point records, little-endian, packed. The package
// is exact to the bit in both directions: with the items of a VLR it reproduces
// the bytes of the widespread LASzip encoder, version 3.5.0.
//
// Memory. A Decoder or an Encoder holds its adaptive models, made when the points
// first need them (0.4 or 1.6 KB each; a few hundred for common data, at most
// some 1100 for each scanner channel besides the extra bytes), and for each extra byte of
// the record up to 1.6 KB for each scanner channel. Besides, a decoder has a window of 1 KB
// for each layer, and an encoder the bytes of the chunk that it writes. Neither ever
// allocates by a size that the stream states.
//
// Not in scope: files, headers, parallelism (package las), and restoring the
// LAS 1.4 compatibility mode, whose records are served as stored.
//
// Source: the LAZ specification as in docs/las-reading.md; arithmetic coding
// after A. Said, "Arithmetic Coding", in Lossless Compression Handbook, 2003.
package laz

import (
	"errors"
	"fmt"
)

// Item types of the LASzip VLR.
const (
	ItemByte         = 0
	ItemPoint10      = 6
	ItemGPSTime11    = 7
	ItemRGB12        = 8
	ItemWavePacket13 = 9
	ItemPoint14      = 10
	ItemRGB14        = 11
	ItemRGBNIR14     = 12
	ItemWavePacket14 = 13
	ItemByte14       = 14
)

// Compressors of the LASzip VLR.
const (
	CompressorNone      = 0
	CompressorPointwise = 1 // one chunk, no chunk table
	CompressorChunked   = 2 // pointwise chunks and a chunk table
	CompressorLayered   = 3 // layered chunks and a chunk table
)

// VariableChunkSize is the chunk size of a VLR whose chunk table states the
// number of points of every chunk.
const VariableChunkSize = 0xFFFFFFFF

// DefaultChunkSize is the number of points in a chunk that writers use by habit.
const DefaultChunkSize = 50000

var (
	// ErrTruncated says that the bytes ended before the points did.
	ErrTruncated = errors.New("the compressed bytes end before the points do")
	// ErrCorrupt says that the bytes are not what an encoder can have written.
	ErrCorrupt = errors.New("the compressed bytes are damaged")
)

// Error tells where in a chunk the decoder met damage.
type Error struct {
	Item  string // item of the point record, such as "POINT14"; empty for the chunk's own fields
	Layer string // layer of a layered item, such as "Z"; empty in pointwise chunks
	Point int    // index in the chunk of the first point that is not good
	Err   error  // ErrTruncated, ErrCorrupt or an error that wraps one of them
}

func (e *Error) Error() string {
	switch {
	case e.Item == "":
		return fmt.Sprintf("laz: point %d of the chunk: %v", e.Point, e.Err)
	case e.Layer == "":
		return fmt.Sprintf("laz: point %d of the chunk, item %s: %v", e.Point, e.Item, e.Err)
	}
	return fmt.Sprintf("laz: point %d of the chunk, item %s, layer %s: %v", e.Point, e.Item, e.Layer, e.Err)
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// Layers is a set of layers of a layered chunk. Coordinates, returns and the
// scanner channel are always decoded. A field whose layer is left out keeps the
// value of the first point of its scanner channel's run in the chunk, so it must
// not be used. Pointwise chunks ignore the set: all fields are decoded.
type Layers uint32

// The layers that can be left out.
const (
	LayerZ Layers = 1 << iota
	LayerClassification
	LayerFlags
	LayerIntensity
	LayerScanAngle
	LayerUserData
	LayerPointSource
	LayerGPSTime
	LayerRGB
	LayerNIR
	LayerWavePacket
	LayerExtraBytes

	AllLayers Layers = 1<<iota - 1
)
