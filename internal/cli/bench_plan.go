package cli

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"finwright/internal/app"
	"finwright/internal/unit"
)

// exactly is a flag that reads one quantity with its unit, without doubt.
type exactly struct {
	si  *float64
	dim unit.Dim
}

func (v exactly) String() string {
	if v.si == nil || *v.si == 0 {
		return ""
	}
	return unit.Format(*v.si, v.dim)
}
func (v exactly) Type() string { return v.dim.Name() }
func (v exactly) Set(text string) error {
	q, err := unit.Parse(text, v.dim)
	if err != nil {
		return err
	}
	if q.Kind != unit.Exact {
		return fmt.Errorf("%q is in doubt; expected %s", text, v.dim.Want())
	}
	*v.si = q.Mid
	return nil
}

// benchFlags are those of a plan and of a verdict alike.
func benchFlags(f *pflag.FlagSet, opt *app.BenchOptions) {
	f.StringVar(&opt.Design, "design", "", "the retrofit under test (default: the device as it is)")
	f.Var(exactly{&opt.Setting.RoomK, unit.Temperature}, "room", "air temperature on the bench, such as \"23 °C\" (default: the room's probe, or the device file)")
	f.Var(exactly{&opt.Setting.WindMS, unit.Velocity}, "air", "air speed on the bench, such as \"2 m/s\" (default: still)")
	f.Uint64Var(&opt.Seed, "seed", 7, "seed of learning and draws")
}

func benchPlanCommand(e *env) *cobra.Command {
	var opt app.BenchOptions
	cmd := &cobra.Command{Use: "plan FILE", Short: "a one-page run sheet: where the probes go, how long, what would decide",
		Long: `Works out a test of a design from its model and prints it on one page with room to write: where one, two or three
probes and the room's probe go and why, how to fix them and what each way costs, what the device must stand on, how it
must start, how long until the answer is decided, what the probes should read meanwhile, what a bad bond would look
like, which runs would decide, and when to switch off.`,
		Example: "  finwright bench plan lamp.yaml\n  finwright bench plan lamp.yaml --design \"finned back\" --room \"21 °C\" > run-sheet.txt",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return errors.New("finwright bench plan wants one device file, such as: finwright bench plan lamp.yaml")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			tell, done := newProgress(e.t.Err)
			s, err := app.PlanBench(cmd.Context(), args[0], opt, tell)
			done()
			if err != nil {
				return err
			}
			if e.json {
				return writeJSON(e.t.Out, s)
			}
			return e.printer().RunSheet(s)
		}}
	f := cmd.Flags()
	benchFlags(f, &opt)
	f.Var(seconds{s: &opt.UntilS}, "for", "longest run, such as \"90 min\" (default: until the battery is empty, or four hours)")
	return cmd
}
