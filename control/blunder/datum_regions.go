package blunder

import (
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// region is a part of the Earth that moves as one plate, with the frames in use there.
type region struct {
	outline orb.Ring // longitude, latitude in degrees
	frames  []frame
}

// The regions. Their outlines are coarse and drawn by us from memory: at sea they run off the coast, on land they leave out
// what moves by centimetres a year on its own (the Aegean and Anatolia, California and the Pacific coast with Alaska, the Andes and
// the coast below them, the Caribbean's margin) and countries with frames that are not listed here.
var regions = []region{
	{orb.Ring{{-12, 35.95}, {-5.4, 35.95}, {-1, 36.4}, {0, 37.6}, {9.5, 38}, {11.5, 37.2}, {12.7, 35.6}, {19, 35.6}, {19, 39.6}, {26.3, 40.8}, {28.5, 41.8}, {31, 43},
		{36.5, 44.2}, {42, 44}, {42, 72}, {-12, 72}, {-12, 35.95}},
		[]frame{frameITRF, frameETRS89, plateFixed("ITRF of epoch 2010.0", 2010, plateEurasia)}},
	{orb.Ring{{-79.5, 24.2}, {-97, 24}, {-105, 24}, {-108, 25}, {-111, 28.5}, {-113, 31}, {-114.8, 32.3}, {-115.2, 35}, {-117, 38}, {-119, 42}, {-121, 49}, {-122, 52}, {-128, 56},
		{-136, 61}, {-141, 64}, {-141, 72}, {-125, 78}, {-110, 80.5}, {-75, 84}, {-61, 83}, {-65, 81}, {-74, 78.5}, {-59.5, 66.5}, {-54, 58}, {-50, 48}, {-51, 45}, {-65, 41}, {-74, 34},
		{-79.5, 29}, {-79.5, 24.2}},
		[]frame{frameITRF, frameNAD83, plateFixed("ITRF of epoch 2010.0", 2010, plateNorthAmerica)}},
	{orb.Ring{{112, -45}, {155, -45}, {155, -23}, {147, -13}, {144.5, -9.8}, {143, -9.3}, {142, -9.15}, {141.5, -9.5}, {137, -10.5}, {129.5, -10.5}, {121, -13}, {113, -20}, {112, -25}, {112, -45}},
		[]frame{frameITRF, frameGDA2020, frameGDA94}},
	{orb.Ring{{-60, 9.5}, {-62, 9.5}, {-67, 8}, {-71, 5}, {-74, 1}, {-75, -4}, {-72, -11}, {-68, -12.5}, {-64.5, -16.5}, {-63.5, -22}, {-64, -27}, {-65, -31}, {-65.5, -36}, {-66, -40},
		{-68, -42}, {-70, -47}, {-71, -51}, {-68.3, -52.4}, {-63, -48}, {-62, -41.5}, {-56, -39}, {-52, -35.5}, {-46, -29.5}, {-37.5, -19}, {-33.8, -9}, {-33.8, -4.5}, {-40, -2}, {-47, 0.5},
		{-49, 4}, {-52, 6}, {-60, 9.5}},
		[]frame{frameITRF, plateFixed("SIRGAS2000 (epoch 2000.4)", 2000.4, plateSouthAmerica)}},
}

// framesAt lists the frames in use at a place, degrees; none where this package knows no plate.
func framesAt(latDeg, lonDeg float64) []frame {
	for i := range regions {
		if planar.RingContains(regions[i].outline, orb.Point{lonDeg, latDeg}) {
			return regions[i].frames
		}
	}
	return nil
}
