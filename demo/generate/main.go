// Command generate writes the invented logs of the demo devices: run "go run ./demo/generate" in the module's root. Each
// device is a handful of lumps with invented values (truth.go), followed in time by a small program of its own (network.go),
// and read by an invented logger (logger.go). Nothing of finwright is used, so that finwright's models meet data they did not
// make. The same bytes come out every time.
package main

import (
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	for _, l := range logs() {
		text, story := l.write()
		path := filepath.Join("demo", filepath.FromSlash(l.path))
		if err := os.WriteFile(path, text, 0o644); err != nil {
			fmt.Fprintln(os.Stderr, "the log cannot be written; run this in the module's root:", err)
			os.Exit(1)
		}
		fmt.Printf("%s: %s\n", path, story)
	}
}
