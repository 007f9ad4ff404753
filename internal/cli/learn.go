package cli

import (
	"github.com/spf13/cobra"

	"finwright/internal/app"
)

func learnCommand(e *env) *cobra.Command {
	var opt app.LearnOptions
	cmd := oneFile("learn", "find what cannot be measured from how the stock device behaved", "  finwright learn lamp.yaml", func(cmd *cobra.Command, path string) error {
		tell, done := newProgress(e.t.Err)
		l, err := app.Learn(cmd.Context(), path, opt, tell)
		done()
		if l == nil {
			return err
		}
		if e.json {
			if werr := writeJSON(e.t.Out, l); werr != nil {
				return werr
			}
			return err
		}
		p := e.printer()
		p.Logs(l.Logs)
		if perr := p.Learned(l.Result); perr != nil {
			return perr
		}
		return err
	})
	cmd.Flags().Uint64Var(&opt.Seed, "seed", 7, "seed of the draws: the same seed gives the same answer")
	return cmd
}
