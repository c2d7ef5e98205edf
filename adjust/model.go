package adjust

import (
	"slices"
	"strings"
)

// model is a set of kinds that are estimated together.
type model []Kind

func (m model) has(k Kind) bool { return slices.Contains(m, k) }

func (m model) with(k Kind) model { return append(slices.Clone(m), k) }

func (m model) without(k Kind) model {
	return slices.DeleteFunc(slices.Clone(m), func(o Kind) bool { return o == k })
}

func (m model) String() string {
	if len(m) == 0 {
		return "none"
	}
	var names []string
	for _, k := range m {
		names = append(names, k.String())
	}
	return strings.Join(names, "+")
}

// words is how much has to be said for the model: what is usual costs least, errors of single strips cost more than
// three boresight angles, since they have many values and could mimic them.
func (m model) words() float64 {
	sum := 0.0
	for _, k := range m {
		switch {
		case k <= BoresightHeading:
			sum += 0.8
		case k < globalKinds:
			sum++
		case k == StripDrift:
			sum += 2.7
		default:
			sum += 2.5
		}
	}
	return sum
}

// rank orders models of the same size by how usual their causes are.
func (m model) rank() int {
	r := 0
	for _, k := range m {
		r += 1 + int(k)
	}
	return r
}

// columns lists the places of the model's parameters.
func (m model) columns(l layout) []int {
	var cols []int
	for _, k := range m {
		cols = append(cols, l.columnsOf(k)...)
	}
	slices.Sort(cols)
	return cols
}

// globalModels lists the candidate models of global parameters: each choice of boresight angles
// and scan angle scale, alone or with one of the rarer kinds.
//
// A model does not hold two kinds that the data cannot tell apart.
func globalModels(usable func(Kind) bool, alike [][2]Kind) []model {
	var models []model
	usual := []Kind{BoresightRoll, BoresightPitch, BoresightHeading, ScanAngleScale}
	rare := []Kind{-1, LeverX, LeverY, TimeOffset, RangeOffset}
	for bits := range 1 << len(usual) {
		var m model
		for i, k := range usual {
			if bits>>i&1 == 1 {
				m = append(m, k)
			}
		}
		if slices.ContainsFunc(m, func(k Kind) bool { return !usable(k) }) || m.holdsAlike(alike) {
			continue
		}
		for _, k := range rare {
			switch {
			case k < 0:
				models = append(models, m)
			case usable(k) && !m.with(k).holdsAlike(alike):
				models = append(models, m.with(k))
			}
		}
	}
	return models
}

// holdsAlike reports whether two kinds of the model cannot be told apart.
func (m model) holdsAlike(alike [][2]Kind) bool {
	return slices.ContainsFunc(alike, func(a [2]Kind) bool { return m.has(a[0]) && m.has(a[1]) })
}

// stripSets are the combinations of per-strip kinds that are tried beside global ones: all of them.
func stripSets() []model {
	kinds := []Kind{StripHeight, StripHorizontal, AttitudeDrift, StripDrift}
	var sets []model
	for bits := range 1 << len(kinds) {
		var m model
		for i, k := range kinds {
			if bits>>i&1 == 1 {
				m = append(m, k)
			}
		}
		sets = append(sets, m)
	}
	return sets
}
