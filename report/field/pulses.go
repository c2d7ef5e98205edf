package field

import "sidelap/las"

// pulses counts later returns, and how many of them stand beside another return of their pulse. A recorder writes the
// returns of a pulse one behind the other; of a thinned cloud most stand alone.
type pulses struct{ later, together int64 }

func (p *pulses) add(c *las.Chunk) {
	if len(c.GPSTime) < c.N || len(c.ReturnNumber) < c.N {
		return
	}
	t := c.GPSTime[:c.N]
	for i, k := range c.ReturnNumber[:c.N] {
		if k < 2 {
			continue
		}
		p.later++
		if i > 0 && t[i-1] == t[i] || i+1 < len(t) && t[i+1] == t[i] {
			p.together++
		}
	}
}

func (p *pulses) merge(o *pulses) { p.later, p.together = p.later+o.later, p.together+o.together }

// thinned reports whether most later returns stand alone, where there are enough to tell.
func (p *pulses) thinned() bool { return p.later >= 500 && 2*p.together < p.later }
