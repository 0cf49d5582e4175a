package recording

import (
	"errors"
	"os"
	"slices"
	"strings"

	"lull/cmd/lull/internal/words"
	"lull/decode/live"
)

// addresses parses the sources.
func addresses(args []string) ([]live.Address, error) {
	var list []live.Address
	for _, arg := range args {
		a, err := live.ParseAddress(arg)
		var e *live.Error
		switch {
		case errors.As(err, &e):
			return nil, words.Misused(e.Hint, "%s: %s", e.Source, e.Why)
		case a.Network == live.CAN && isLog(arg):
			return nil, words.Misused("to measure it: lull episodes "+arg, "%s: a log, not a source", arg)
		case slices.Contains(list, a):
			return nil, words.Misused("name each source once", "%s: named twice", arg)
		}
		list = append(list, a)
	}
	return list, nil
}

// isLog reports whether an argument is a file rather than an interface, whose names are
// short and without slashes.
func isLog(arg string) bool {
	info, err := os.Stat(arg)
	return err == nil && !info.IsDir() || strings.ContainsAny(arg, `/\`)
}
