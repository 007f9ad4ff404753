package cli

import (
	"io"
	"os"
	"sync/atomic"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/term"

	"finwright/internal/app"
)

// progress shows how far a task is on the error stream, when that is a terminal: a bar, the share done and an estimate of the
// time left. Elsewhere it says nothing.
type progress struct {
	pool *mpb.Progress
	bar  *mpb.Bar
	task atomic.Value // string: told by workers, read by the bar's own goroutine
}

// barSteps is the resolution of a bar.
const barSteps = 1000

// taskWidth is how many characters of a task's name are shown.
const taskWidth = 33

// newProgress starts showing; call done at the end.
func newProgress(err io.Writer) (tell app.Tell, done func()) {
	f, ok := err.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil, func() {}
	}
	p := &progress{pool: mpb.New(mpb.WithOutput(f), mpb.WithWidth(40), mpb.WithRefreshRate(150*time.Millisecond))}
	p.task.Store("")
	p.bar = p.pool.AddBar(barSteps,
		mpb.BarRemoveOnComplete(),
		mpb.PrependDecorators(decor.Any(func(decor.Statistics) string { return p.task.Load().(string) }, decor.WC{W: taskWidth + 1, C: decor.DindentRight})),
		mpb.AppendDecorators(decor.Percentage(decor.WC{W: 5}), decor.Name("  about "), decor.AverageETA(decor.ET_STYLE_GO), decor.Name(" left")))
	return p.tell, p.done
}

func (p *progress) tell(task string, done, total float64) {
	name := []rune(printable(task))
	p.task.Store(string(name[:min(len(name), taskWidth)]))
	if total > 0 {
		p.bar.SetCurrent(int64(min(barSteps-1, barSteps*done/total)))
	}
}

func (p *progress) done() {
	p.bar.Abort(true)
	p.pool.Wait()
}
