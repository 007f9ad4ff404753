// Package cli is the commands, one per file: each reads flags, calls one use case of package app and prints what it returns.
// Only this package and cmd/finwright know about terminals and exit codes.
//
// Start reading at Main.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"unicode"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"golang.org/x/term"

	"finwright/internal/device"
	"finwright/internal/report"
	"finwright/internal/unit"
)

// Exit codes.
const (
	exitOK     = 0
	exitFailed = 1   // a result was printed, and it says that something does not pass or cannot be built
	exitUsage  = 2   // no result: wrong flags, a wrong file, a place that cannot be written to
	exitStop   = 130 // stopped with Ctrl-C
)

// Terminal is where a command reads and writes.
type Terminal struct {
	In       io.Reader
	Out, Err io.Writer
}

// errFailed ends a command with exitFailed after it has printed its result.
var errFailed = errors.New("failed")

// env is what all commands of one call share.
type env struct {
	t    Terminal
	json bool
}

// Main runs one command line and returns the exit code.
func Main(ctx context.Context, args []string, t Terminal) int {
	e := &env{t: t}
	root := e.root()
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	switch {
	case err == nil:
		return exitOK
	case errors.Is(err, errFailed):
		return exitFailed
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(t.Err, "\nstopped before the end; no file of yours was changed")
		return exitStop
	}
	e.json = e.json || slices.Contains(args, "--json") // a wrong flag before it keeps it from being read
	return e.explain(err)
}

// root is the command that all others hang on.
func (e *env) root() *cobra.Command {
	root := &cobra.Command{
		Use:     "finwright",
		Version: version(),
		Short:   "Why a sealed device stops from heat, and what would help",
		Long: `finwright is for a person with a small workshop and a sealed, hand-sized device that stops itself from heat.
Describe the teardown in one file, learn what cannot be measured from how the device behaved, see where the
degrees are lost, and compare changes before cutting metal.`,
		Example:       "  finwright demo                      watch the whole job on an invented device\n  finwright new lamp.yaml             start a file of your own\n  finwright check lamp.yaml           is it complete, does it make sense?\n  finwright compare lamp.yaml         what would help, and will it be enough?",
		SilenceErrors: true, SilenceUsage: true,
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
	}
	root.SetIn(e.t.In)
	root.SetOut(e.t.Out)
	root.SetErr(e.t.Err)
	root.SetFlagErrorFunc(flagError)
	root.SetHelpCommand(helpCommand())
	root.PersistentFlags().BoolVar(&e.json, "json", false, "print the result as JSON")
	root.AddCommand(newCommand(e), checkCommand(e), benchCommand(e), learnCommand(e), runCommand(e), compareCommand(e), nextCommand(e), proveCommand(e), demoCommand(e), schemaCommand(e))
	return root
}

// flagError says where the flags are told, and which one was probably meant.
func flagError(cmd *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	hint := ""
	if errors.As(err, &unknown) {
		var names []string
		cmd.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		if near := unit.Nearest(unknown.GetSpecifiedName(), names); near != "" {
			hint = fmt.Sprintf("\n  did you mean --%s?", near)
		}
	}
	return fmt.Errorf("%w%s\n  '%s --help' lists its flags", err, hint, cmd.CommandPath())
}

// helpCommand is `help`, which unlike the library's own refuses a command that is not there.
func helpCommand() *cobra.Command {
	return &cobra.Command{Use: "help [COMMAND]", Short: "tell about a command", Example: "  finwright help compare",
		RunE: func(cmd *cobra.Command, args []string) error {
			about, rest, err := cmd.Root().Find(args)
			if err != nil || len(rest) > 0 {
				return fmt.Errorf("unknown command %q", strings.Join(args, " "))
			}
			return about.Help()
		}}
}

// explain prints an error for a person, or as JSON, and chooses the exit code.
func (e *env) explain(err error) int {
	var problems device.Problems
	isFile := errors.As(err, &problems)
	if e.json {
		out := struct {
			Error    string          `json:"error"`
			Problems device.Problems `json:"problems,omitempty"`
		}{err.Error(), problems}
		writeJSON(e.t.Out, out)
	}
	fmt.Fprintln(e.t.Err, printable(err.Error()))
	if !isFile && strings.HasPrefix(err.Error(), "unknown command") {
		fmt.Fprintln(e.t.Err, "Run 'finwright --help' for the commands and their flags.")
	}
	return exitUsage
}

// printable takes control characters, and with them escape sequences, out of a message: names in it may come from a file.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' {
			return ' '
		}
		return r
	}, s)
}

// printer is the terminal printer for results.
func (e *env) printer() *report.Printer { return e.printerTo(e.t.Out) }

// printerTo prints elsewhere what is made for the terminal.
func (e *env) printerTo(w io.Writer) *report.Printer {
	s := report.Style{Width: 100}
	if f, ok := e.t.Out.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		s.Colour = os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 0 {
			s.Width = min(w, 120)
		}
	}
	return report.Terminal(w, s)
}

// say prints a line of text.
func (e *env) say(format string, a ...any) error {
	_, err := fmt.Fprintln(e.t.Out, printable(fmt.Sprintf(format, a...)))
	return err
}

// oneFile makes a command that takes one device file.
func oneFile(use, short, example string, run func(cmd *cobra.Command, path string) error) *cobra.Command {
	return &cobra.Command{Use: use + " FILE", Short: short, Example: example,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("finwright %s wants one device file, such as: finwright %s lamp.yaml", use, use)
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return run(cmd, args[0]) }}
}
