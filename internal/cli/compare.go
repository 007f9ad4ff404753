package cli

import (
	"path/filepath"

	"github.com/spf13/cobra"

	"finwright/internal/app"
)

func compareCommand(e *env) *cobra.Command {
	var opt app.CompareOptions
	page := ""
	cmd := oneFile("compare", "stock and all retrofits side by side: minutes, margin, what would be enough",
		"  finwright compare lamp.yaml\n  finwright compare lamp.yaml --only \"finned back\" --page report.html",
		func(cmd *cobra.Command, path string) error {
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
				return writeJSON(e.t.Out, st)
			}
			if err := e.printer().Study(st); err != nil {
				return err
			}
			if page != "" {
				e.say("\nThe whole study as a page: %s", page)
			}
			return nil
		})
	f := cmd.Flags()
	f.StringArrayVar(&opt.Only, "only", nil, "compare this retrofit only; may be repeated")
	f.Var(seconds{&opt.UntilS}, "for", "the time asked for, such as \"90 min\" (default: until the battery is empty)")
	f.IntVar(&opt.Draws, "draws", 0, "draws of what is in doubt, for low and high (default 8)")
	f.StringVar(&page, "page", "", "also write the study as one self-contained HTML page")
	f.Uint64Var(&opt.Seed, "seed", 7, "seed of learning and draws")
	return cmd
}

func demoCommand(e *env) *cobra.Command {
	opt := app.DemoOptions{Folder: ".", Which: 0}
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
				e.say("The device file is %s; its data are invented.\n", d.File)
				if err := e.printCheck(rep); err != nil {
					return err
				}
			}
			tell, done := newProgress(e.t.Err)
			st, err := app.Compare(cmd.Context(), d.File, app.CompareOptions{Seed: opt.Seed}, tell)
			done()
			if err != nil {
				return err
			}
			page := filepath.Join(filepath.Dir(d.File), "report.html")
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
			if err := p.Study(st); err != nil {
				return err
			}
			e.say("\nThe report: %s", page)
			return nil
		}}
	f := cmd.Flags()
	f.StringVar(&opt.Folder, "to", "finwright-demo", "folder to write the demo's files and report to")
	f.IntVar(&opt.Which, "device", 1, "which of the invented devices: 1, 2 or 3")
	f.Uint64Var(&opt.Seed, "seed", 7, "seed of learning and draws")
	return cmd
}
