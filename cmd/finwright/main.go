// Command finwright helps a person with a small workshop find out why a sealed device stops from heat, and what would help.
package main

import (
	"context"
	"os"
	"os/signal"

	"finwright/internal/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	code := cli.Main(ctx, os.Args[1:], cli.Terminal{In: os.Stdin, Out: os.Stdout, Err: os.Stderr})
	stop()
	os.Exit(code)
}
