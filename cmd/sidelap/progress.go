package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/term"

	"sidelap/report/assess"
)

// progress draws one line on stderr while a command works. It draws only when stderr
// is a terminal and neither --quiet nor --json was given; otherwise its methods do nothing.
type progress struct {
	bars    *mpb.Progress
	bar     *mpb.Bar
	stage   string
	started time.Time
}

// isTerminal reports whether w is a terminal, and its width in columns.
func isTerminal(w io.Writer) (columns int, ok bool) {
	f, isFile := w.(*os.File)
	if !isFile || !term.IsTerminal(int(f.Fd())) {
		return 0, false
	}
	columns, _, err := term.GetSize(int(f.Fd()))
	if err != nil || columns <= 0 {
		columns = 80
	}
	return columns, true
}

func (a *app) newProgress() *progress {
	p := &progress{}
	columns, ok := isTerminal(a.stderr)
	if !ok || a.quiet || a.json {
		return p
	}
	p.bars = mpb.New(mpb.WithOutput(a.stderr), mpb.WithWidth(max(10, min(40, columns-48))),
		mpb.WithRefreshRate(200*time.Millisecond))
	return p
}

// update shows how far the work is. It is called for each chunk, not each point.
func (p *progress) update(now assess.Progress) {
	if p.bars == nil {
		return
	}
	if p.bar == nil || now.Stage != p.stage {
		p.finish()
		p.stage, p.started = now.Stage, time.Now()
		p.bar = p.newBar(now)
	}
	p.bar.SetCurrent(now.Done)
}

// newBar draws share, rate and time left of a stage that counts points, of another how long it has taken.
func (p *progress) newBar(now assess.Progress) *mpb.Bar {
	if now.Total <= 0 && now.Done <= 0 {
		return p.bars.New(0, mpb.NopStyle(), mpb.BarRemoveOnComplete(), mpb.PrependDecorators(decor.Name(now.Stage), decor.Any(p.taken)))
	}
	return p.bars.New(now.Total, mpb.BarStyle().Lbound("").Rbound("").Filler("=").Tip("").Padding("."),
		mpb.BarRemoveOnComplete(),
		mpb.PrependDecorators(decor.Name(now.Stage+" "), decor.Percentage(decor.WC{W: 5})),
		mpb.AppendDecorators(decor.Any(p.rate), decor.Any(p.left)))
}

func (p *progress) taken(decor.Statistics) string {
	seconds := int(time.Since(p.started).Seconds())
	return fmt.Sprintf("  %d:%02d", seconds/60, seconds%60)
}

func (p *progress) rate(s decor.Statistics) string {
	seconds := time.Since(p.started).Seconds()
	if seconds < 0.2 {
		return ""
	}
	return fmt.Sprintf("  %.1f M points/s", float64(s.Current)/seconds/1e6)
}

func (p *progress) left(s decor.Statistics) string {
	seconds := time.Since(p.started).Seconds()
	if seconds < 0.5 || s.Current <= 0 || s.Total <= 0 {
		return ""
	}
	left := int(seconds*float64(s.Total-s.Current)/float64(s.Current) + 0.5)
	return fmt.Sprintf("  %d:%02d left", left/60, left%60)
}

// finish removes the line of the stage that ended.
func (p *progress) finish() {
	if p.bar != nil {
		p.bar.Abort(true)
		p.bar.Wait()
		p.bar = nil
	}
}

// close removes the line for good, also after an error.
func (p *progress) close() {
	p.finish()
	if p.bars != nil {
		p.bars.Wait()
		p.bars = nil
	}
}
