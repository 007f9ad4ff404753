package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"finwright/internal/app"
	"finwright/internal/benchtest"
	"finwright/internal/unit"
)

// endings are how a person may say a run ended.
var endings = []struct {
	word string
	is   benchtest.EndedBy
}{{"stopped", benchtest.EndByHeat}, {"empty", benchtest.EndEmpty}, {"by hand", benchtest.EndByHand}, {"running", benchtest.EndRunning}}

// ending is a flag that reads one of them.
type ending struct{ is *benchtest.EndedBy }

func (v ending) String() string {
	if v.is == nil {
		return ""
	}
	for _, e := range endings {
		if e.is == *v.is {
			return e.word
		}
	}
	return ""
}
func (v ending) Type() string { return "way" }
func (v ending) Set(text string) error {
	var words []string
	for _, e := range endings {
		if e.word == strings.TrimSpace(text) {
			*v.is = e.is
			return nil
		}
		words = append(words, `"`+e.word+`"`)
	}
	return fmt.Errorf("%q is no way a run ends; say one of %s", text, strings.Join(words, ", "))
}

func benchJudgeCommand(e *env) *cobra.Command {
	var opt app.JudgeOptions
	cmd := &cobra.Command{Use: "judge FILE LOG", Short: "what a test's log says: how it ended, which bond is to blame, would it last elsewhere",
		Long: `Holds a design against the log of its test: how the run ended and with what margin, what the curves say on their own,
the model beside the log reading by reading, which bond is worse than planned and its likely causes, how the design
would do in this room, at 35 °C and in the sun with what the test left in doubt, and what to do next.
A run that FILE names this log in is judged under its own conditions, any other on a bench: still air, no sun.
Nothing is written; what may go into the device file is printed for pasting.`,
		Example: "  finwright bench judge lamp.yaml runs/first.csv\n" +
			"  finwright bench judge lamp.yaml after.csv --design \"finned back\" --channel \"P1=fins.back centre\" --room-column R\n" +
			"  finwright bench judge lamp.yaml after.csv --design \"finned back\" --channel \"P1=fins.back centre\" --ended stopped",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 2 {
				return errors.New("finwright bench judge wants a device file and a log, such as: finwright bench judge lamp.yaml after.csv")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			tell, done := newProgress(e.t.Err)
			v, err := app.JudgeBench(cmd.Context(), args[0], args[1], opt, tell)
			done()
			stopped := errors.Is(err, context.Canceled) && v != nil // the forecasts are missing, what came before them is whole
			if err != nil && !stopped {
				return err
			}
			if e.json {
				if werr := writeJSON(e.t.Out, v); werr != nil {
					return werr
				}
				return err
			}
			if werr := e.printer().Judged(v); werr != nil {
				return werr
			}
			return err
		}}
	f := cmd.Flags()
	benchFlags(f, &opt.BenchOptions)
	f.StringArrayVar(&opt.Channels, "channel", nil, "where a column of the log was measured, such as \"P1=shell.back centre\"; may be repeated")
	f.StringVar(&opt.Room, "room-column", "", "the column of the room's probe")
	f.Var(exactly{&opt.Setting.StartK, unit.Temperature}, "start", "temperature of the device at switch-on (default: the room's, or what the probes read first)")
	f.Var(ending{&opt.Ended}, "ended", "how the run ended, when you know: stopped, empty, by hand, running")
	f.Var(seconds{s: &opt.EndS}, "after", "when it ended, such as \"23 min\" (default: when the probes begin to cool)")
	f.StringVar(&opt.Reading, "reading", "", "how the log is read, as finwright bench read prints it, such as \"start 312 s\"")
	return cmd
}
