package cli

import (
	"errors"

	"github.com/spf13/cobra"

	"finwright/internal/app"
)

func compareCommand(e *env) *cobra.Command {
	var opt app.CompareOptions
	page := ""
	cmd := oneFile("compare", "stock and all retrofits side by side: minutes, margin, what would be enough",
		"  finwright compare lamp.yaml\n  finwright compare lamp.yaml --only \"finned back\" --page report.html",
		func(cmd *cobra.Command, path string) error {
			if cmd.Flags().Changed("draws") && opt.Draws < 1 {
				return errors.New("--draws wants a whole number from 1 up")
			}
			if page != "" {
				if err := app.PageFits(page); err != nil {
					return err // before the work, not after it
				}
			}
			tell, done := newProgress(e.t.Err)
			st, err := app.Compare(cmd.Context(), path, opt, tell)
			done()
			if err != nil {
				return err
			}
			if page != "" {
				if err := app.WriteReport(page, st); err != nil {
					return err
				}
			}
			if e.json {
				err = writeJSON(e.t.Out, st)
			} else {
				p := e.printer()
				p.Study(st)
				if err = p.Cautions(st.Cautions); err == nil && page != "" {
					err = e.say("\nThe whole study as a page: %s", page)
				}
			}
			if err != nil {
				return err
			}
			for i := range st.Rows {
				if st.Rows[i].Failed != "" {
					return errFailed
				}
			}
			return nil
		})
	f := cmd.Flags()
	f.StringArrayVar(&opt.Only, "only", nil, "compare this retrofit only; may be repeated")
	f.Var(seconds{s: &opt.UntilS}, "for", "the time asked for, such as \"90 min\" (default: until the battery is empty)")
	f.IntVar(&opt.Draws, "draws", 0, "draws of what is in doubt, for low, high and chances (default 200)")
	f.StringVar(&page, "page", "", "also write the study as one self-contained HTML page")
	f.Uint64Var(&opt.Seed, "seed", 7, "seed of learning and draws")
	return cmd
}
