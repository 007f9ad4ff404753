package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"finwright/internal/app"
	"finwright/internal/report"
)

// provenCase is a case in the output of `prove --json`, whose keys are part of the interface.
type provenCase struct {
	ID        string  `json:"id"`
	Source    string  `json:"source"`
	Value     float64 `json:"value"`
	Target    float64 `json:"target"`
	Tolerance float64 `json:"tolerance"`
	Unit      string  `json:"unit"`
	Pass      bool    `json:"pass"`
}

func proveCommand(e *env) *cobra.Command {
	return &cobra.Command{Use: "prove [FOLDER]", Short: "run published cases and print ours beside theirs", Example: "  finwright prove\n  finwright prove proofs/relations\n  finwright prove proofs --json",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 {
				return fmt.Errorf("finwright prove takes one folder, or none for the cases that come with it")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			folder := ""
			if len(args) == 1 {
				folder = args[0]
			}
			tell, done := newProgress(e.t.Err)
			proof, err := app.Prove(cmd.Context(), folder, tell)
			done()
			if err != nil {
				return err
			}
			if e.json {
				out := struct {
					Cases  []provenCase `json:"cases"`
					Passed int          `json:"passed"`
					Failed int          `json:"failed"`
				}{Cases: []provenCase{}, Passed: proof.Passed, Failed: proof.Failed}
				for _, c := range proof.Formulas {
					out.Cases = append(out.Cases, provenCase{c.ID, c.Source + " (" + c.Status + ")", c.Value, c.Target, c.Tolerance, c.Unit, c.Pass})
				}
				for _, c := range proof.Cases {
					out.Cases = append(out.Cases, provenCase{c.ID, c.Source, c.Value, c.Target, c.Tolerance, c.Unit, c.Pass})
				}
				err = writeJSON(e.t.Out, out)
			} else {
				var rows []report.Proven
				for _, c := range proof.Cases {
					rows = append(rows, report.Proven(c))
				}
				p := e.printer()
				if err = p.Formulas(proof.Formulas); err == nil && (len(rows) > 0 || len(proof.Formulas) == 0) {
					err = p.Proof(rows)
				}
			}
			if err != nil {
				return err
			}
			if proof.Failed > 0 {
				return errFailed
			}
			return nil
		}}
}
