// Package proofs carries the published cases inside the program: device files, and in relations the tables of published figures of
// formulas.
package proofs

import "embed"

// Files holds the device files of this folder, and the tables in relations.
//
//go:embed *.yaml relations/*.yaml
var Files embed.FS
