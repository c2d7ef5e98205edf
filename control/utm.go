package control

// UTMZone is the UTM zone of an EPSG code on WGS 84 (326xx, 327xx), ETRS89 (258xx) or NAD83 (269xx); zone 0 for any other
// code. Source: EPSG dataset.
func UTMZone(epsg int) (zone int, south bool) {
	switch {
	case epsg >= 32601 && epsg <= 32660:
		return epsg - 32600, false
	case epsg >= 32701 && epsg <= 32760:
		return epsg - 32700, true
	case epsg >= 25828 && epsg <= 25838:
		return epsg - 25800, false
	case epsg >= 26901 && epsg <= 26923:
		return epsg - 26900, false
	}
	return 0, false
}
