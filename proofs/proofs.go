// Package proofs carries the published cases, as ordinary device files, inside the program.
package proofs

import "embed"

// Files holds the device files of this folder.
//
//go:embed *.yaml
var Files embed.FS
