package las

import "fmt"

// formatInfo is the layout of a point data record format: byte offsets in the record, -1 for what
// the format lacks.
//
// Source: LAS 1.4 R16, point data record formats 0 to 10.
type formatInfo struct {
	size     int  // bytes without extra bytes
	extended bool // formats 6 to 10: four-bit returns, scanner channel, fine scan angle
	gps      int
	rgb      int
	nir      int
	wave     int // 29-byte wave packet
}

var formats = [11]formatInfo{
	0:  {20, false, -1, -1, -1, -1},
	1:  {28, false, 20, -1, -1, -1},
	2:  {26, false, -1, 20, -1, -1},
	3:  {34, false, 20, 28, -1, -1},
	4:  {57, false, 20, -1, -1, 28},
	5:  {63, false, 20, 28, -1, 34},
	6:  {30, true, 22, -1, -1, -1},
	7:  {36, true, 22, 30, -1, -1},
	8:  {38, true, 22, 30, 36, -1},
	9:  {59, true, 22, -1, -1, 30},
	10: {67, true, 22, 30, 36, 38},
}

// maxFormat is the highest point data record format.
const maxFormat = 10

// FormatSize returns the bytes of a point record of the format without extra bytes, or 0 for a
// format that does not exist.
func FormatSize(format uint8) int {
	if format > maxFormat {
		return 0
	}
	return formats[format].size
}

// HasGPSTime reports whether points of the format carry a GPS time.
func HasGPSTime(format uint8) bool { return format <= maxFormat && formats[format].gps >= 0 }

// HasRGB reports whether points of the format carry a colour.
func HasRGB(format uint8) bool { return format <= maxFormat && formats[format].rgb >= 0 }

// HasNIR reports whether points of the format carry a near infrared value.
func HasNIR(format uint8) bool { return format <= maxFormat && formats[format].nir >= 0 }

// Extended reports whether the format is one of 6 to 10: up to 15 returns, scanner channel, scan
// angle in steps of 0.006 degrees.
func Extended(format uint8) bool { return format >= 6 && format <= maxFormat }

// Version is the version of the LAS specification that a file states.
type Version struct{ Major, Minor uint8 }

// String returns for instance "1.4".
func (v Version) String() string { return fmt.Sprintf("%d.%d", v.Major, v.Minor) }

// headerSize returns the bytes of the public header of a version, and false for a version that is
// not known.
func (v Version) headerSize() (int, bool) {
	if v.Major != 1 {
		return 0, false
	}
	switch v.Minor {
	case 0, 1, 2:
		return 227, true
	case 3:
		return 235, true
	case 4:
		return 375, true
	case 5:
		return 393, true
	}
	return 0, false
}

// versionFor returns the oldest version whose specification has the format and that this package
// would write: 1.2 for formats 0 to 3, 1.3 for wave packets in 4 and 5, 1.4 for 6 to 10.
func versionFor(format uint8) Version {
	switch {
	case format <= 3:
		return Version{1, 2}
	case format <= 5:
		return Version{1, 3}
	}
	return Version{1, 4}
}
