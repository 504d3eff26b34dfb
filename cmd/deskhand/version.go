package main

import "runtime/debug"

// version names the build: the module's version, or the commit that it was built of.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "deskhand (unknown build)"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return "deskhand " + v
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			return "deskhand " + s.Value[:min(len(s.Value), 12)]
		}
	}
	return "deskhand (development build)"
}
