package cli

import "runtime/debug"

// version is what the Go tool wrote into the binary: the module's version or the commit's; "devel" when there is none.
func version() string {
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" && info.Main.Version != "(devel)" {
		return info.Main.Version
	}
	return "devel"
}
