package measuring

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/sigmap"
)

// MapName is the map used if --map is not given.
const MapName = "map.yaml"

// ErrNoMap is wrapped by the failure to find a map.
var ErrNoMap = errors.New("no map")

// LoadMap reads the map named by flag, or the one beside the logs. Logs beside different
// maps need --map, as a result has one map.
func LoadMap(flag string, args []string) (m *decode.Map, path string, err error) {
	if flag != "" {
		m, err = sigmap.Load(flag)
		return m, flag, err
	}
	seen := map[string]bool{}
	for _, arg := range args {
		candidate := MapName
		if arg != "-" {
			folder := arg
			if info, err := os.Stat(arg); err != nil || !info.IsDir() {
				folder = filepath.Dir(arg)
			}
			candidate = filepath.Join(folder, MapName)
		}
		if seen[candidate] {
			continue
		}
		seen[candidate] = true
		if _, err := os.Stat(candidate); errors.Is(err, fs.ErrNotExist) {
			continue
		}
		next, err := sigmap.Load(candidate)
		if err != nil {
			return nil, candidate, err
		}
		if m != nil && m.SHA256 != next.SHA256 {
			return nil, path, words.Misused("say which with --map, or measure the folders one by one",
				"%s and %s are different maps", path, candidate)
		}
		if m == nil {
			m, path = next, candidate
		}
	}
	if m == nil {
		return nil, "", &words.Failure{Where: args[0], What: "no " + MapName + " lies beside it", Hint: "say which map with --map FILE, or have one drafted: lull draft " + strings.Join(args, " ") + " -o " + MapName, Cause: ErrNoMap}
	}
	return m, path, nil
}

// noBus is an interface that no log can name, since spaces end a name there.
const noBus = " "

// OnlyBus restricts a map to one interface. Entries of other interfaces are kept, so that
// indexes stay valid, but are moved to noBus.
func OnlyBus(m *decode.Map, bus string) *decode.Map {
	if bus == "" {
		return m
	}
	restricted := *m
	restricted.Entries = append([]decode.Entry(nil), m.Entries...)
	for i := range restricted.Entries {
		e := &restricted.Entries[i]
		switch e.Bus {
		case "", bus:
			e.Bus = bus
		default:
			e.Bus = noBus
		}
	}
	return &restricted
}
