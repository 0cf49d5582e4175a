package main

import "strings"

// severalLogs are the flags of each command that take every argument up to the
// next flag.
var severalLogs = map[string][]string{"report": {"--before"}}

// spreadFor is spread for a command line that names its command first.
func spreadFor(args []string) []string {
	if len(args) == 0 {
		return args
	}
	return spread(args, severalLogs[args[0]]...)
}

// spread repeats a flag before each of the arguments up to the next flag, as the
// flag parser takes one value a flag: --before a b becomes --before=a --before=b.
// A lone - is an argument, and after -- nothing is a flag.
func spread(args []string, flags ...string) []string {
	var out []string
	open := "" // the flag that takes arguments now
	taken := 0
	end := func() {
		if open != "" && taken == 0 {
			out = append(out, open) // its value is missing: the parser says so
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
