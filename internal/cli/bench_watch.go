package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"finwright/internal/app"
	"finwright/internal/benchlog"
	"finwright/internal/follow"
	"finwright/internal/report"
	"finwright/internal/unit"
)

func benchWatchCommand(e *env) *cobra.Command {
	var opt app.WatchOptions
	var port string
	var baud int
	var narrowPercent float64
	said := make([][]string, len(benchlog.Settings))
	cmd := &cobra.Command{Use: "watch FILE", Short: "follow the log of a running test, and forecast when and how it will end",
		Long: `Follows a log while its logger still writes it, draws the curves, and says when and how the run will end, with a 90 %
interval that narrows as readings come in, and when the answer is decided and the test may stop. FILE is a growing
file, or - for standard input; with --serial the readings come from a serial line.

With a device file the forecast rests on its heat model: draws of all that is not known, after learning from the
other runs in the file, weighed by the readings. Without one it rests on the curve alone: where the temperature
goes, when it settles, and whether it reaches --limit. It ends when the device has ended, or with Ctrl-C; the log
is never changed.
Stay with the test: a forecast does not watch over the device.`,
		Example: "  finwright bench watch runs/today.csv\n" +
			"  finwright bench watch runs/today.csv --limit \"60 °C\" --room-column room\n" +
			"  finwright bench watch runs/today.csv --device lamp.yaml --design \"finned back\" --channel \"T1=body.top centre\"\n" +
			"  finwright bench watch --serial /dev/ttyUSB0 --baud 9600 --device lamp.yaml\n" +
			"  finwright bench watch - --json      what a logger's own program writes to its output, by |",
		Args: func(cmd *cobra.Command, args []string) error {
			switch {
			case port == "" && len(args) != 1:
				return errors.New("finwright bench watch wants one log, - for standard input, or --serial PORT, such as: finwright bench watch runs/today.csv")
			case port != "" && len(args) > 0:
				return errors.New("finwright bench watch follows one thing: a file, or --serial")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			var err error
			if opt.Settings, err = logSettings(said); err != nil {
				return err
			}
			if narrowPercent < 0 || narrowPercent > 100 {
				return fmt.Errorf("--narrow: %g %% is no width of an interval", narrowPercent)
			}
			opt.Narrow = narrowPercent / 100
			src, err := e.source(port, baud, args)
			if err != nil {
				return err
			}
			defer src.Close()
			return e.watch(cmd.Context(), src, opt)
		}}
	f := cmd.Flags()
	f.StringVar(&opt.Device, "device", "", "the device file of what is on the bench")
	f.StringVar(&opt.Design, "design", "", "the retrofit that is on the bench (default: stock)")
	f.StringArrayVar(&opt.Probes, "channel", nil, "where a column of the log is measured, such as \"T1=shell.back centre\" (default: as in the runs of the device file); may be repeated")
	f.StringVar(&opt.Room, "room-column", "", "the column of the room's probe")
	f.StringVar(&opt.Ambient, "room", "", "air temperature on the bench, such as \"23 °C ± 1 K\" (default: the room's probe, or what the probes read first)")
	f.Var(exactly{&opt.WindMS, unit.Velocity}, "air", "air speed on the bench, such as \"2 m/s\" (default: still)")
	f.StringVar(&opt.Limit, "limit", "", "without a device file: the temperature that must not be reached, such as \"60 °C\"")
	f.BoolVar(&opt.Priors, "unlearned", false, "do not learn from the runs in the device file first")
	f.BoolVar(&opt.Once, "once", false, "take the log as it is now, and do not wait for more")
	f.Float64Var(&narrowPercent, "narrow", 5, "the end counts as known when its interval's half-width is below this many `percent` of it")
	f.StringVar(&port, "serial", "", "follow this serial port, such as /dev/ttyUSB0 or COM3")
	f.IntVar(&baud, "baud", 9600, "speed of the serial line")
	f.DurationVar(&opt.Every, "every", time.Second, "time between looks at the log")
	f.Uint64Var(&opt.Seed, "seed", 7, "seed of the draws: the same seed gives the same answer")
	logFlags(f, said)
	return cmd
}

// source opens what is to be followed.
func (e *env) source(port string, baud int, args []string) (follow.Source, error) {
	from := time.Now()
	clock := func() float64 { return time.Since(from).Seconds() }
	switch {
	case port != "":
		return follow.OpenSerial(port, baud, clock)
	case args[0] == "-":
		return follow.NewStream("standard input", io.NopCloser(e.t.In), clock), nil
	}
	return follow.NewFile(args[0]), nil
}

// watch shows what comes: redrawn on a terminal, one line for each forecast elsewhere, one JSON object a line when asked.
func (e *env) watch(ctx context.Context, src follow.Source, opt app.WatchOptions) error {
	var screen *redrawn
	if f, ok := e.t.Out.(*os.File); ok && term.IsTerminal(int(f.Fd())) && !e.json && !opt.Once {
		screen = &redrawn{out: f}
	}
	if !opt.Once {
		opt.Waiting = func(why string) { fmt.Fprintln(e.t.Err, "waiting: "+printable(why)) }
	}
	if !e.json && !opt.Once {
		fmt.Fprintf(e.t.Err, "following %s; Ctrl-C ends it, the log is not changed\n", printable(src.Name()))
	}
	tell, done := newProgress(e.t.Err)
	defer func() { done() }()
	var failed error
	shown := false
	last, err := app.Watch(ctx, src, opt, tell, func(w *report.WatchFigures) {
		if !shown {
			done()
			done = func() {}
			shown = true
		}
		if e.json {
			failed = errors.Join(failed, writeJSONLine(e.t.Out, w))
			return
		}
		if screen != nil {
			failed = errors.Join(failed, screen.show(e, w))
		} else if !opt.Once {
			failed = errors.Join(failed, e.say("%s", report.WatchLine(w)))
		}
	})
	done()
	done = func() {}
	if last != nil {
		switch {
		case e.json && (err != nil || !opt.Once):
			failed = errors.Join(failed, writeJSONLine(e.t.Out, last))
		case e.json:
		default:
			if screen != nil {
				screen.wipe()
			} else if shown && !opt.Once {
				failed = errors.Join(failed, e.say(""))
			}
			failed = errors.Join(failed, e.printer().Watch(last))
		}
	}
	return errors.Join(err, failed)
}

// redrawn is a block of lines on a terminal that the next one takes the place of.
type redrawn struct {
	out   *os.File
	lines int
}

// show prints a state over the last one, cut to what the screen holds.
func (r *redrawn) show(e *env, w *report.WatchFigures) error {
	var b bytes.Buffer
	p := e.printerTo(&b)
	if err := p.Watch(w); err != nil {
		return err
	}
	lines := strings.SplitAfter(b.String(), "\n")
	if _, height, err := term.GetSize(int(r.out.Fd())); err == nil && height > 2 && len(lines) > height-1 {
		lines = lines[:height-1]
	}
	r.wipe()
	text := strings.Join(lines, "")
	r.lines = strings.Count(text, "\n")
	_, err := io.WriteString(r.out, text)
	return err
}

// wipe takes the last block off: cursor up and erase below (ECMA-48 CUU, ED).
func (r *redrawn) wipe() {
	if r.lines > 0 {
		fmt.Fprintf(r.out, "\x1b[%dA\r\x1b[J", r.lines)
		r.lines = 0
	}
}
