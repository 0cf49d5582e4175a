package main

import (
	"slices"
	"strings"

	"lull/cmd/lull/internal/words"
	"lull/pkg/source"
)

// severalLogs are, by command, the flags that take every argument up to the next flag.
var severalLogs = map[string][]string{"compare": {"--before", "--after"}, "report": {"--before"}, "map": {"--log"}, "frames": {"--against"}}

// spreadFor is spread for the command named in the arguments.
func spreadFor(args []string) []string {
	for i, arg := range args {
		if !strings.HasPrefix(arg, "-") {
			return append(args[:i+1:i+1], spread(args[i+1:], severalLogs[arg]...)...)
		}
	}
	return args
}

// twoSides checks that standard input is on one side at most.
func twoSides(before, after []string) error {
	if slices.Contains(before, source.Stdin) && slices.Contains(after, source.Stdin) {
		return words.Misused("give one side as a file", "standard input cannot be both sides")
	}
	return nil
}

// named checks that a flag of severalLogs was given an argument.
func named(flag string, logs []string) error {
	if slices.Contains(logs, "") {
		return words.Misused("name at least one log behind it", "%s: its value is missing", flag)
	}
	return nil
}

// spread repeats a flag before each of the arguments up to the next flag, as the flag
// parser takes one value per flag: --before a b becomes --before=a --before=b. A lone - is
// an argument, and after -- nothing is a flag.
func spread(args []string, flags ...string) []string {
	var out []string
	open := "" // the flag now taking arguments
	taken := 0
	end := func() {
		if open != "" && taken == 0 {
			out = append(out, open+"=") // reported by named
		}
		open = ""
	}
	for i, arg := range args {
		if arg == "--" {
			end()
			return append(out, args[i:]...)
		}
		if len(arg) > 1 && strings.HasPrefix(arg, "-") {
			end()
			name, value, joined := strings.Cut(arg, "=")
			for _, f := range flags {
				if name == f {
					open, taken = f, 0
				}
			}
			if open == "" {
				out = append(out, arg)
			} else if joined {
				out, taken = append(out, open+"="+value), 1
			}
			continue
		}
		if open == "" {
			out = append(out, arg)
			continue
		}
		taken++
		out = append(out, open+"="+arg)
	}
	end()
	return out
}
