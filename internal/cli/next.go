package cli

import (
	"errors"

	"github.com/spf13/cobra"

	"finwright/internal/app"
)

func nextCommand(e *env) *cobra.Command {
	var opt app.NextOptions
	cmd := oneFile("next", "what to measure next: which reading settles most, per minute of effort, whether a design lasts",
		"  finwright next lamp.yaml\n  finwright next lamp.yaml --design \"finned back\"",
		func(cmd *cobra.Command, path string) error {
			if cmd.Flags().Changed("draws") && opt.Draws < leastNextDraws {
				return errors.New("--draws wants a whole number from 100 up: fewer cannot rank the measurements")
			}
			if cmd.Flags().Changed("design") && opt.Design == "" {
				return errors.New("--design wants the name of a retrofit, or stock")
			}
			tell, done := newProgress(e.t.Err)
			a, err := app.Next(cmd.Context(), path, opt, tell)
			done()
			if err != nil {
				return err
			}
			if e.json {
				return writeJSON(e.t.Out, a)
			}
			return e.printer().Advice(a)
		})
	f := cmd.Flags()
	f.StringVar(&opt.Design, "design", "", "the retrofit to decide about, or stock (default: the retrofit likeliest to last of those in doubt)")
	f.Var(seconds{s: &opt.UntilS}, "for", "the time asked for, such as \"90 min\" (default: until the battery is empty)")
	f.IntVar(&opt.Draws, "draws", 0, "draws of what is in doubt (default 400 with --design, else 200)")
	f.Uint64Var(&opt.Seed, "seed", 7, "seed of learning and draws")
	return cmd
}

const leastNextDraws = 100
