package main

import (
	"fmt"
	"io"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// version returns the module's version if this is a released build, else "dev" and the
// commit it was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "dev"
	}
	return versionOf(info)
}

func versionOf(info *debug.BuildInfo) string {
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	commit, changed := "", ""
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			commit = s.Value[:min(12, len(s.Value))]
		case "vcs.modified":
			if s.Value == "true" {
				changed = "+changed"
			}
		}
	}
	if commit == "" {
		return "dev"
	}
	return "dev-" + commit + changed
}

func newVersion(c *console) *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "shows which lull this is",
		Long:  "Prints one line: the version, the Go release that built it, and the system it was built for.",
		Args:  wants(0, 0, ""),
		RunE:  func(*cobra.Command, []string) error { return tellVersion(c) },
	}
}

func tellVersion(c *console) error {
	return emit(c, "", func(w io.Writer) error {
		_, err := fmt.Fprintf(w, "lull %s, %s, %s/%s\n", version(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
		return err
	})
}
