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
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"finwright/internal/device"
	"finwright/internal/report"
)

// Exit codes.
const (
	exitOK     = 0
	exitFailed = 1   // a case did not pass, or something outside the user's reach went wrong
	exitUsage  = 2   // wrong flags, a wrong file
	exitStop   = 130 // stopped with Ctrl-C
)

// Terminal is where a command reads and writes.
type Terminal struct {
	In       io.Reader
	Out, Err io.Writer
}

// errFailed ends a command with exitFailed after it has printed its result.
var errFailed = errors.New("failed")

// session of one call: what all commands share.
type env struct {
	t    Terminal
	json bool
}

// Main runs one command line and returns the exit code.
func Main(ctx context.Context, args []string, t Terminal) int {
	e := &env{t: t}
	root := &cobra.Command{
		Use:   "finwright",
		Short: "Why a sealed device stops from heat, and what would help",
		Long: `finwright is for a person with a small workshop and a sealed, hand-sized device that stops itself from heat.
Describe the teardown in one file, learn what cannot be measured from how the device behaved, see where the
degrees are lost, and compare changes before cutting metal.`,
		Example:       "  finwright demo                      watch the whole job on an invented device\n  finwright new lamp.yaml             start a file of your own\n  finwright check lamp.yaml           is it complete, does it make sense?\n  finwright compare lamp.yaml         what would help, and will it be enough?",
		SilenceErrors: true, SilenceUsage: true,
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
	}
	root.SetArgs(args)
	root.SetIn(t.In)
	root.SetOut(t.Out)
	root.SetErr(t.Err)
	root.PersistentFlags().BoolVar(&e.json, "json", false, "print the result as JSON")
	root.AddCommand(newCommand(e), checkCommand(e), learnCommand(e), runCommand(e), compareCommand(e), proveCommand(e), demoCommand(e), schemaCommand(e))
	err := root.ExecuteContext(ctx)
	switch {
	case err == nil:
		return exitOK
	case errors.Is(err, errFailed):
		return exitFailed
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(t.Err, "\nstopped; nothing was changed")
		return exitStop
	}
	return e.explain(err)
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
	fmt.Fprintln(e.t.Err, err)
	if !isFile && strings.HasPrefix(err.Error(), "unknown ") {
		fmt.Fprintln(e.t.Err, "Run 'finwright --help' for the commands and their flags.")
	}
	return exitUsage
}

// printer is the terminal printer for results.
func (e *env) printer() *report.Printer {
	s := report.Style{Width: 100}
	if f, ok := e.t.Out.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		_, no := os.LookupEnv("NO_COLOR")
		s.Colour = !no && os.Getenv("TERM") != "dumb"
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 0 {
			s.Width = min(w, 120)
		}
	}
	return report.Terminal(e.t.Out, s)
}

// say prints a line of text.
func (e *env) say(format string, a ...any) { fmt.Fprintf(e.t.Out, format+"\n", a...) }

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
