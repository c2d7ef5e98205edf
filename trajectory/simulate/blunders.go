package simulate

// commit applies the blunders to the given coordinates.
func (f *Flight) commit(list []Blunder) {
	for _, b := range list {
		f.commitOne(b)
	}
}
func (f *Flight) commitOne(b Blunder) { _ = b }
