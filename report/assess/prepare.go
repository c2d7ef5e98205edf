package assess

import (
	"context"
	"fmt"
	"sync"

	"sidelap/adjust"
	"sidelap/control"
	"sidelap/las"
	"sidelap/overlap"
	"sidelap/report"
	"sidelap/trajectory"
)

// Prepared is an assessment with what it rests on, for a correction. Close it.
type Prepared struct {
	Record    *report.Record
	Layers    *report.Layers
	Survey    *overlap.Survey
	Pairs     []overlap.Pair
	Path      *trajectory.Path // from a file or from the points; nil without
	Knowledge adjust.Knowledge
	Diagnosis *adjust.Diagnosis
	Files     []*las.File     // in the order of the survey's file numbers
	Control   []control.Point // points that may be fitted to

	j *job
}

// Prepare assesses a survey as Run does and keeps files, strips, pairs and path.
func Prepare(ctx context.Context, o Options) (*Prepared, error) {
	o.SkipCauses, o.OnlyStrips, o.OnlyChecks = false, false, false
	j, err := newJob(ctx, o)
	if err != nil {
		return nil, err
	}
	j.keepFacets = true
	if err := j.run(ctx); err != nil {
		closeAll(j.files)
		return nil, err
	}
	p := &Prepared{Record: j.rec, Layers: j.layers, Survey: j.survey, Pairs: j.pairs, Path: j.path, Knowledge: j.know, Diagnosis: j.diagnosis, Files: j.files, j: j}
	if j.ground != nil {
		p.Control = j.ground.Points
	}
	return p, nil
}

// Close closes the files.
func (p *Prepared) Close() { closeAll(p.Files) }

// stageFunc adapts a function to a sink.
type stageFunc func(c *las.Chunk, file int)

func (f stageFunc) Add(c *las.Chunk, file int) { f(c, file) }

// Remeasure reads the points again, has them changed by move, and returns the strips and pairs of the result. newMove is called once for
// each goroutine. The inputs are not changed.
func (p *Prepared) Remeasure(ctx context.Context, newMove func() func(c *las.Chunk, file int)) (*overlap.Survey, []overlap.Pair, error) {
	j := p.j
	var mu sync.Mutex
	var parts []*overlap.Accumulator
	var failed error
	err := readAll(ctx, j.files, overlap.Columns, j.o.Workers, func() []sink {
		acc, err := j.newSums()
		mu.Lock()
		defer mu.Unlock()
		if err != nil {
			failed = err
			return nil
		}
		parts = append(parts, acc)
		return []sink{stageFunc(newMove()), acc}
	}, j.o.Progress)
	defer closeSums(parts)
	if err == nil {
		err = failed
	}
	if err != nil {
		return nil, nil, err
	}
	all, err := j.joinSums(parts)
	if err != nil {
		return nil, nil, err
	}
	so := overlap.DefaultSurveyOptions()
	so.Mode = overlap.StripMode(j.o.StripsBy)
	s, err := all.Survey(so)
	if err != nil {
		return nil, nil, err
	}
	if len(s.Strips) != len(p.Survey.Strips) {
		return nil, nil, fmt.Errorf("after the first round of correction %d strips were found, %d before", len(s.Strips), len(p.Survey.Strips))
	}
	for i := range s.Strips {
		if s.Strips[i].ID != p.Survey.Strips[i].ID {
			return nil, nil, fmt.Errorf("after the first round of correction strip %d is %s, %s before", i+1, s.Strips[i].ID, p.Survey.Strips[i].ID)
		}
	}
	return s, s.Pairs(overlap.DefaultPairOptions()), nil
}
