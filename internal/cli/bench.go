package cli

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"finwright/internal/app"
	"finwright/internal/benchlog"
)

// benchCommand is the group of commands about tests at the bench.
func benchCommand(e *env) *cobra.Command {
	cmd := &cobra.Command{Use: "bench", Short: "tests at the bench: plan one, read a logger's file, watch it run, judge the log",
		Example: "  finwright bench",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return fmt.Errorf("unknown command %q for %q", args[0], cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return cmd.Help() }}
	cmd.AddCommand(benchPlanCommand(e), benchReadCommand(e), benchWatchCommand(e), benchJudgeCommand(e))
	return cmd
}

func benchReadCommand(e *env) *cobra.Command {
	var opt app.ReadLogsOptions
	said := make([][]string, len(benchlog.Settings))
	cmd := &cobra.Command{Use: "read FILE...", Short: "how a logger's file, or readings noted by hand, are understood",
		Long: `Reads loggers' files and says how they were understood: encoding, separators, heading, clock and columns, the first
five rows, what had to be assumed, what was left out and why, and where the power was switched on and off. What is
guessed wrong can be said; --remember writes it into the device file, whose learn and check then read the log so.
The files themselves are never changed.`,
		Example: "  finwright bench read runs/first.csv\n" +
			"  finwright bench read runs/first.csv --decimal comma --column \"2 name chip unit °F\" --remember lamp.yaml\n" +
			"  finwright bench read volts.csv --column \"2 thermocouple K class 'IEC 1'\" --cold \"23 °C\"\n" +
			"  finwright bench read runs/chip.csv runs/skin.txt --together",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return errors.New("finwright bench read wants a logger's file, such as: finwright bench read runs/first.csv")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			var err error
			if opt.Settings, err = logSettings(said); err != nil {
				return err
			}
			got, err := app.ReadLogs(args, opt)
			if err != nil {
				return err
			}
			if e.json {
				return writeJSON(e.t.Out, got)
			}
			p := e.printer()
			for i := range got.Logs {
				p.Log(&got.Logs[i])
			}
			if err := p.Aligned(got.Aligned); err != nil {
				return err
			}
			for _, r := range got.Remembered {
				if err := e.say("\n%s now says for %s:\n  log reading: %s", r.Device, r.Run, r.Reading); err != nil {
					return err
				}
			}
			return nil
		}}
	f := cmd.Flags()
	logFlags(f, said)
	f.BoolVar(&opt.Together, "together", false, "the files saw one run: put the later ones on the first one's clock")
	f.StringVar(&opt.Remember, "remember", "", "write how the logs are read into this device file, beside each log")
	return cmd
}

// logFlags adds a flag for each thing that can be said about a log.
func logFlags(f *pflag.FlagSet, said [][]string) {
	for i, s := range benchlog.Settings {
		more := ""
		if s.Often {
			more = "; may be repeated"
		}
		f.StringArrayVar(&said[i], s.Name, nil, fmt.Sprintf("%s, such as \"%s\"%s", s.Doc, s.Example, more))
	}
}

// logSettings is what was said, as a device file's log reading says it.
func logSettings(said [][]string) (string, error) {
	var settings []string
	for i, s := range benchlog.Settings {
		for _, v := range said[i] {
			one := s.Name + " " + strings.ReplaceAll(v, "'", `"`)
			if _, err := benchlog.ParseOptions(one); err != nil {
				return "", fmt.Errorf("--%s: %w", s.Name, err)
			}
			settings = append(settings, one)
		}
	}
	return strings.Join(settings, "; "), nil
}
