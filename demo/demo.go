// Package demo carries three invented devices, with their invented logs, inside the program. Each lives in a folder of its
// own; see README.md beside them for how the logs were made.
package demo

import "embed"

// Files holds the devices' folders.
//
//go:embed */*.yaml */runs/*.csv
var Files embed.FS

// Devices lists the device files, in the order of the demo.
var Devices = []string{
	"direction-finder/direction-finder.yaml",
	"cave-lamp/cave-lamp.yaml",
	"road-weather/road-weather.yaml",
}
