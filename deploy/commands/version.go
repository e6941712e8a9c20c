package commands

import (
	"fmt"
	"runtime/debug"
)

// Version prints BuiltFrom.
type Version struct{}

func (Version) Help() string { return "Example:\n\n    hotday version" }

func (Version) Run(s Streams) error {
	_, err := fmt.Fprintln(s.Out, "hotday", BuiltFrom())
	return err
}

// BuiltFrom returns the module's version, or the commit of a local build.
func BuiltFrom() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	for _, set := range info.Settings {
		if set.Key == "vcs.revision" {
			return set.Value[:min(12, len(set.Value))]
		}
	}
	return "unreleased"
}
