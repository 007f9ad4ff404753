package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"finwright/internal/app"
	"finwright/internal/unit"
)

// seconds is a flag that reads a time with its unit.
type seconds struct {
	s      *float64
	zeroOK bool
}

func (v seconds) String() string {
	if v.s == nil || *v.s == 0 {
		return ""
	}
	return unit.Format(*v.s, unit.Time)
}
func (v seconds) Type() string { return "time" }
func (v seconds) Set(text string) error {
	q, err := unit.Parse(text, unit.Time)
	if err != nil {
		return err
	}
	switch {
	case q.Kind != unit.Exact:
		return fmt.Errorf("%q is in doubt; expected one time, such as \"90 min\"", text)
	case q.Mid < 0 || q.Mid == 0 && !v.zeroOK:
		return fmt.Errorf("%q is not a time to come; expected one such as \"90 min\"", text)
	case q.Mid > longestS:
		return fmt.Errorf("%q is longer than %s, the longest that is followed", text, unit.Format(longestS, unit.Time))
	}
	*v.s = q.Mid
	return nil
}

// longestS bounds the time asked for: 30 days.
const longestS = 30 * 24 * 3600

func runCommand(e *env) *cobra.Command {
	opt := app.RunOptions{CoolS: 20 * 60}
	cmd := oneFile("run", "one session of one design: when and how it ends, and where the degrees go",
		"  finwright run lamp.yaml\n  finwright run lamp.yaml --retrofit \"finned back\" --for \"90 min\"\n  finwright run lamp.yaml --watch \"plate.front centre\" --learned",
		func(cmd *cobra.Command, path string) error {
			tell, done := newProgress(e.t.Err)
			res, err := app.Run(cmd.Context(), path, opt, tell)
			done()
			if err != nil {
				return err
			}
			if e.json {
				return writeJSON(e.t.Out, res)
			}
			return e.printer().Run(res)
		})
	f := cmd.Flags()
	f.StringVar(&opt.Retrofit, "retrofit", "", "the retrofit to run (default: the stock device)")
	f.Var(seconds{s: &opt.UntilS}, "for", "stop after this time, such as \"90 min\" (default: when the battery is empty)")
	f.Var(seconds{s: &opt.CoolS, zeroOK: true}, "cool", "how long to follow the cool-down")
	f.StringArrayVar(&opt.Watch, "watch", nil, "a further place to record, such as \"plate.front centre\"; may be repeated")
	f.BoolVar(&opt.Learn, "learned", false, "learn from the stock runs first, and use the most likely values")
	f.Uint64Var(&opt.Seed, "seed", 7, "seed of learning")
	return cmd
}
