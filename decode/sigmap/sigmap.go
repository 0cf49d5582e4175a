// Package sigmap reads the signal map that a user writes, one YAML 1.2 document of the core
// schema, into a checked and compiled decode.Map. It reports all mistakes in a file at once,
// each with its line, its column and a hint how to correct it, but no mistake that merely
// follows from another. It never guesses a unit, a label or a signal. Start with Load or
// Parse.
package sigmap

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"lull/decode"
)

// Load reads and compiles a map file. If the map has mistakes, the error is an Errors; if the
// file cannot be read, the error says so in plain words and wraps the cause.
func Load(path string) (*decode.Map, error) {
	data, err := Read(path)
	if err != nil {
		return nil, err
	}
	return Parse(path, data)
}

// Read returns the text of a map file, for Parse. Of a file that is too large, it returns
// enough for Parse to say so. Its error is in plain words and wraps the cause.
func Read(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, unreadable(path, err)
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return nil, fmt.Errorf("the map %s is a folder, not a file", path)
	}
	data, err := io.ReadAll(io.LimitReader(f, maxBytes+1))
	if err != nil {
		return nil, unreadable(path, err)
	}
	return data, nil
}

func unreadable(path string, err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("there is no map %s: %w", path, fs.ErrNotExist)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("no permission to read the map %s: %w", path, fs.ErrPermission)
	}
	return fmt.Errorf("the map %s cannot be read: %w", path, err)
}

// Parse compiles a map. Errors contain name as given; Map.Name is its last element. A byte
// order mark and CRLF line ends are allowed. The error is an Errors.
func Parse(name string, data []byte) (*decode.Map, error) {
	m, err := compiled(name, data)
	if err != nil {
		return nil, err
	}
	return m, nil
}

// compiled is Parse that also returns what it could read of a map with mistakes, or nil.
func compiled(name string, data []byte) (*decode.Map, error) {
	body := bytes.TrimPrefix(data, []byte("\uFEFF"))
	c := newCollector(name, "")
	if len(data) > maxBytes {
		c.add(ErrTooLarge, 1, 1, fmt.Sprintf("the file is larger than %d MiB", maxBytes>>20), "is this a log? a map is a short text")
		return nil, c.err()
	}
	c = newCollector(name, strings.ToValidUTF8(string(body), "\uFFFD"))
	if !checkBytes(c, body) {
		return nil, c.err()
	}
	root, lost := read(c, body)
	if root == nil {
		return nil, c.err()
	}
	sum := sha256.Sum256(data)
	k := &compiler{collector: c, byName: map[string]int{}, roleLost: lost.some, signalsLost: lost.keys, m: &decode.Map{
		Name:     filepath.Base(name),
		SHA256:   hex.EncodeToString(sum[:]),
		Settings: decode.DefaultSettings(),
	}}
	k.compile(root)
	return k.m, c.err()
}

// compiler fills a Map. Signals with mistakes keep their place in Map.Signals, so that
// references to them are not reported as mistakes, too.
type compiler struct {
	*collector
	m       *decode.Map
	entries []entryState  // parallel to m.Entries
	signals []signalState // parallel to m.Signals
	byName  map[string]int
	// roleLost reports that the role of some signal could not be read, which may be a
	// role that seems to be missing.
	roleLost bool
	// signalsLost reports that the names of some signals could not be read, among which
	// may be one that seems to be unknown.
	signalsLost bool
}

func (k *compiler) compile(root *node) {
	f := k.fields(root, "a map", "format", "vehicle", "notes", "frames", "restart_requests", "inhibits", "limits", "settings", "conditions")
	if f == nil {
		return
	}
	if n := f.require("format", "the map", "write `format: 1` at its top"); n != nil {
		if v, ok := k.num(n, "format"); ok && v.float != 1 {
			k.at(n, ErrRange, fmt.Sprintf("unknown format %s", n.text), "write `format: 1`; a newer format needs a newer lull")
		}
	}
	if n := f.get("vehicle"); n != nil {
		k.m.Vehicle, _ = k.str(n, "vehicle")
	}
	if n := f.get("notes"); n != nil {
		k.m.Notes, _ = k.str(n, "notes")
	}
	for r := range k.m.Role {
		k.m.Role[r] = -1
	}
	if n := f.require("frames", "the map", "list the frames to read under `frames:`"); n != nil {
		k.frames(n)
	} else {
		k.roleLost, k.signalsLost = true, true
	}
	if k.m.Role[decode.EngineSpeed] < 0 && !k.roleLost {
		at := root
		if key := f.keys["frames"]; key != nil {
			at = key
		}
		k.at(at, ErrNoEngineSpeed, "no signal has the role engine_speed", "every map needs one: add `role: engine_speed` and its unit to the signal that carries the crankshaft's speed")
	}
	k.m.Requests = k.conditions(f.get("restart_requests"), "restart_requests", true)
	k.m.Inhibits = k.conditions(f.get("inhibits"), "inhibits", false)
	k.limits(f.get("limits"))
	k.settings(f.get("settings"))
	k.compared(f)
}

// compared reads `conditions`, the signals that a comparison compares between its two sides.
// By default they are the battery's charge and voltage.
func (k *compiler) compared(f *fields) {
	n := f.get("conditions")
	if n == nil {
		for _, r := range []decode.Role{decode.BatteryCharge, decode.BatteryVoltage} {
			if i := k.m.Role[r]; i >= 0 {
				k.m.Circumstances = append(k.m.Circumstances, i)
			}
		}
		return
	}
	seen := map[int]bool{}
	for _, item := range k.items(n, "conditions") {
		i, ok := k.signalNamed(item, "conditions")
		switch {
		case !ok:
		case seen[i]:
			k.at(item, ErrDuplicate, fmt.Sprintf("the signal %s is named twice", item.shown()), "keep one of the two")
		default:
			seen[i] = true
			k.m.Circumstances = append(k.m.Circumstances, i)
		}
	}
}

// items reads a list.
func (c *collector) items(n *node, what string) []*node {
	switch {
	case n == nil || n.shape == broken:
	case n.shape == list:
		return n.items
	case n.shape == scalar && n.text == "" && !n.quoted: // a key with nothing after it
	case n.shape == scalar:
		c.at(n, ErrType, fmt.Sprintf("%s must be a list", what), "put it in brackets: ["+n.text+"]")
	default:
		c.at(n, ErrType, fmt.Sprintf("%s must be a list", what), "begin each item with `- `")
	}
	return nil
}

// some returns the items of a list, or a single value as the only item.
func some(n *node) []*node {
	if n.shape == list {
		return n.items
	}
	return []*node{n}
}

// signalNamed returns the index of the signal that a scalar names. If there is none, it
// reports that and returns false.
func (k *compiler) signalNamed(n *node, what string) (int, bool) {
	name, ok := k.name(n, what)
	if !ok {
		return 0, false
	}
	i, found := k.byName[name]
	if !found && !k.signalsLost && len(k.list) < maxErrors {
		hint := "name a signal that is defined in this map"
		names := make([]string, 0, len(k.m.Signals))
		for j := range k.m.Signals {
			names = append(names, k.m.Signals[j].Name)
		}
		if near := nearest(name, names); near != "" {
			hint = "did you mean " + near + "?"
		}
		k.at(n, ErrUnknownSignal, fmt.Sprintf("there is no signal %s", n.shown()), hint)
	}
	return i, found
}
