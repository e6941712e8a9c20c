package commands

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"hotday/models/store"
)

// Version prints what this build is made of.
type Version struct{}

func (Version) Help() string {
	return `The schema is the number of the newest migration of the database: a program migrates an older database to it when it starts, and
refuses a newer one. Example:

    hotday version`
}

func (Version) Run(s Streams) error {
	about, err := store.Describe()
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.Out, "hotday %s\ncommit %s\ngo     %s %s/%s\nsqlite %s (%s)\nschema %d\n",
		BuiltFrom(), commit(), runtime.Version(), runtime.GOOS, runtime.GOARCH, about.SQLite, about.Driver, about.Schema)
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
	if c := setting(info, "vcs.revision"); c != "" {
		return c[:min(12, len(c))]
	}
	return "unreleased"
}

// commit returns the commit that was built and its time, "modified" if the files differed from it, or "unknown" where the build was not
// in a repository.
func commit() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || setting(info, "vcs.revision") == "" {
		return "unknown"
	}
	out := setting(info, "vcs.revision") + " of " + setting(info, "vcs.time")
	if setting(info, "vcs.modified") == "true" {
		out += ", modified"
	}
	return out
}

func setting(info *debug.BuildInfo, key string) string {
	for _, s := range info.Settings {
		if s.Key == key {
			return s.Value
		}
	}
	return ""
}
