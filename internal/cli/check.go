package cli

import (
	"github.com/spf13/cobra"

	"finwright/internal/app"
	"finwright/internal/report"
)

func checkCommand(e *env) *cobra.Command {
	return oneFile("check", "is the file complete, and do its figures fit together?", "  finwright check lamp.yaml\n  finwright check lamp.yaml --json", func(cmd *cobra.Command, path string) error {
		rep, err := app.Check(path)
		if err != nil {
			return err
		}
		if e.json {
			err = writeJSON(e.t.Out, rep)
		} else {
			err = e.printCheck(rep)
		}
		if err != nil {
			return err
		}
		for _, r := range rep.Retrofits {
			if r.Problem != "" {
				return errFailed
			}
		}
		return nil
	})
}

func (e *env) printCheck(rep *app.CheckReport) error {
	p := e.printer()
	p.Title(rep.Device, rep.Invented)
	var parts []report.PartFigures
	for _, x := range rep.Parts {
		parts = append(parts, report.PartFigures{Name: x.Name, Material: x.Material, VolumeM3: x.VolumeM3, MassKg: x.MassKg, CapacityJK: x.CapacityJK, HeatW: x.HeatW, Note: x.Note})
	}
	p.Parts(parts)
	var joints []report.JointFigures
	for _, x := range rep.Joints {
		joints = append(joints, report.JointFigures{A: x.A, B: x.B, What: x.What, AreaM2: x.AreaM2, HWm2K: x.HWm2K, ResistanceKW: x.Resistance})
	}
	p.Joints(joints)
	p.Surfaces(rep.Surfaces)
	var retrofits []report.RetrofitFigures
	for _, x := range rep.Retrofits {
		retrofits = append(retrofits, report.RetrofitFigures{Name: x.Name, MassAddedKg: x.MassAddedKg, Notes: x.Notes, Problem: x.Problem})
	}
	p.Retrofits(retrofits)
	p.Assumptions(rep.Assumptions)
	p.Logs(rep.Logs)
	var odd []string
	for _, w := range rep.Warnings {
		odd = append(odd, w.Error())
	}
	p.Odd(odd)
	p.Findings(rep.Findings)
	return p.Err()
}
