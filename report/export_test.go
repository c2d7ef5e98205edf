package report

import "bytes"

// For the fuzz targets, which have no files.
var ParseLetterhead = parseLetterhead

// ParseLayers reads the bytes of a layers.json.
func ParseLayers(b []byte) (*Layers, error) {
	l := &Layers{}
	return l, l.parseShapes("layers.json", b)
}

// WriteLayers writes a layers.json.
func WriteLayers(l *Layers) ([]byte, error) {
	var b bytes.Buffer
	err := l.writeShapes(&b)
	return b.Bytes(), err
}
