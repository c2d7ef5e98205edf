package laz

// modelPool hands out models in their first state and takes all of them back at
// the start of a chunk. Models are made once and then reused, in the order of
// their first use, which keeps those in use close together.
type modelPool struct {
	search bool // decoders need the search tables
	smalls pool[small, *small]
	bigs   pool[big, *big]
	huges  pool[huge, *huge]
}

type initer[T any] interface {
	*T
	init(n int, search bool)
}

type pool[T any, P initer[T]] struct {
	first map[int]*T // in their first state, by number of symbols
	all   []*T
	used  int
}

func (p *pool[T, P]) get(n int, search bool) *T {
	first := p.first[n]
	if first == nil {
		if p.first == nil {
			p.first = map[int]*T{}
		}
		first = new(T)
		P(first).init(n, search)
		p.first[n] = first
	}
	if p.used == len(p.all) {
		p.all = append(p.all, new(T))
	}
	m := p.all[p.used]
	p.used++
	*m = *first
	return m
}

func (p *modelPool) small(n int) *small { return p.smalls.get(n, p.search) }
func (p *modelPool) big(n int) *big     { return p.bigs.get(n, p.search) }
func (p *modelPool) huge(n int) *huge   { return p.huges.get(n, p.search) }

// release takes all models back.
func (p *modelPool) release() {
	p.smalls.used, p.bigs.used, p.huges.used = 0, 0, 0
}

// smallAt returns *m, made with n symbols on its first use in the chunk.
func (p *modelPool) smallAt(m **small, n int) *small {
	if *m == nil {
		*m = p.small(n)
	}
	return *m
}

// bigAt returns *m, made with n symbols on its first use in the chunk.
func (p *modelPool) bigAt(m **big, n int) *big {
	if *m == nil {
		*m = p.big(n)
	}
	return *m
}
