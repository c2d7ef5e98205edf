package recover

import "slices"

// bin holds the pulses kept of one source and time bin.
type bin struct {
	sample []sampled        // a heap on order: the largest on top once it is full
	limit  uint64           // hash of the top; pulses above it are not kept
	widest [sectors][]pulse // by width, widest first
}

// sampled is a pulse of the fair sample: the PulsesPerBin pulses with the lowest hashes.
type sampled struct {
	hash uint64
	key  pulseKey
	pulse
}

func (a *sampled) above(b *sampled) bool {
	switch {
	case a.hash != b.hash:
		return a.hash > b.hash
	case a.key.timeBits != b.key.timeBits:
		return a.key.timeBits > b.key.timeBits
	}
	return a.key.channel > b.key.channel
}

// keep adds a pulse, or returns of a pulse that is there already, to the sample.
func (b *bin) keep(h uint64, k pulseKey, p pulse, most int) {
	for i := range b.sample {
		if b.sample[i].hash == h && b.sample[i].key == k {
			b.sample[i].merge(&p)
			return
		}
	}
	s := sampled{h, k, p}
	switch {
	case len(b.sample) < most:
		b.sample = append(b.sample, s)
		b.up(len(b.sample) - 1)
	case b.sample[0].above(&s):
		b.sample[0] = s
		b.down(0)
	default:
		return
	}
	b.limit = b.sample[0].hash
}

func (b *bin) up(i int) {
	for i > 0 {
		parent := (i - 1) / 2
		if !b.sample[i].above(&b.sample[parent]) {
			return
		}
		b.sample[i], b.sample[parent] = b.sample[parent], b.sample[i]
		i = parent
	}
}

func (b *bin) down(i int) {
	for {
		big := i
		for c := 2*i + 1; c <= 2*i+2 && c < len(b.sample); c++ {
			if b.sample[c].above(&b.sample[big]) {
				big = c
			}
		}
		if big == i {
			return
		}
		b.sample[i], b.sample[big] = b.sample[big], b.sample[i]
		i = big
	}
}

// offer keeps a ray if it is among the widest of its sector.
func (b *bin) offer(p *pulse, most int) {
	if !p.isRay() {
		return
	}
	w := b.widest[p.sector()]
	if len(w) == most && !p.wider(&w[most-1]) {
		return
	}
	i, _ := slices.BinarySearchFunc(w, p, func(e pulse, t *pulse) int {
		if e.wider(t) {
			return -1
		}
		return 1
	})
	if i < len(w) && w[i].timeS == p.timeS && w[i].first == p.first && w[i].last == p.last {
		return // the same pulse again, from a tile that overlaps
	}
	w = slices.Insert(w, i, *p)
	b.widest[p.sector()] = w[:min(len(w), most)]
}

func (b *bin) merge(from *bin, o Options) {
	for i := range from.sample {
		s := &from.sample[i]
		b.keep(s.hash, s.key, s.pulse, o.PulsesPerBin)
	}
	for s := range from.widest {
		for i := range from.widest[s] {
			b.offer(&from.widest[s][i], o.RaysPerSector)
		}
	}
}
