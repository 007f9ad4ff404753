package cli

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"finwright/internal/app"
	"finwright/internal/device"
)

func newCommand(e *env) *cobra.Command {
	return oneFile("new", "write a commented starter file for a device of yours", "  finwright new lamp.yaml", func(cmd *cobra.Command, path string) error {
		name := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
		err := app.WriteWhole(path, device.Starter(name), false)
		if errors.Is(err, app.ErrExists) {
			return fmt.Errorf("%w; it was left as it is: choose another name", err)
		}
		if err != nil {
			return err
		}
		if e.json {
			return writeJSON(e.t.Out, struct{ File string }{path})
		}
		return e.say("%s is written. Change the parts to yours, then: finwright check %s", path, path)
	})
}
