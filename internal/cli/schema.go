package cli

import (
	"github.com/spf13/cobra"

	"finwright/internal/device"
)

func schemaCommand(e *env) *cobra.Command {
	return &cobra.Command{Use: "schema", Short: "print the JSON Schema of device files, for editors", Args: cobra.NoArgs,
		Example: "  finwright schema > finwright.schema.json",
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := device.Schema()
			if err != nil {
				return err
			}
			_, err = e.t.Out.Write(s)
			return err
		}}
}
