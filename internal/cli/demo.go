package cli

import (
	"path/filepath"

	"github.com/spf13/cobra"

	"finwright/internal/app"
)

func demoCommand(e *env) *cobra.Command {
	var opt app.DemoOptions
	cmd := &cobra.Command{Use: "demo", Short: "watch the whole job on an invented device: check, learn, compare, report", Args: cobra.NoArgs,
		Example: "  finwright demo\n  finwright demo --device 2 --to somewhere",
		RunE: func(cmd *cobra.Command, args []string) error {
			d, err := app.UnpackDemo(opt)
			if err != nil {
				return err
			}
			rep, err := app.Check(d.File)
			if err != nil {
				return err
			}
			if !e.json {
				if err := e.say("The device file is %s; its data are invented.\n", d.File); err != nil {
					return err
				}
				if err := e.printCheck(rep); err != nil {
					return err
				}
			}
			page := filepath.Join(filepath.Dir(d.File), "report.html")
			if err := app.PageFits(page); err != nil {
				return err
			}
			tell, done := newProgress(e.t.Err)
			st, err := app.Compare(cmd.Context(), d.File, app.CompareOptions{Seed: opt.Seed}, tell)
			done()
			if err != nil {
				return err
			}
			if err := app.WriteReport(page, st); err != nil {
				return err
			}
			if e.json {
				return writeJSON(e.t.Out, struct {
					Check  *app.CheckReport
					Study  any
					Report string
				}{rep, st, page})
			}
			p := e.printer()
			if st.Learned != nil {
				p.Learned(st.Learned)
			}
			p.Study(st)
			if err := p.Cautions(st.Cautions); err != nil {
				return err
			}
			return e.say("\nThe report: %s", page)
		}}
	f := cmd.Flags()
	f.StringVar(&opt.Folder, "to", "finwright-demo", "folder to write the demo's files and report to")
	f.IntVar(&opt.Which, "device", 1, "which of the invented devices: 1, 2 or 3")
	f.Uint64Var(&opt.Seed, "seed", 7, "seed of learning and draws")
	return cmd
}
