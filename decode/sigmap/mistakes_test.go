package sigmap

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files anew; read them before they are kept")

// golden compares text with a file in testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", path, diff)
	}
}

// The functions below complete the part that a case is about to a map without other mistakes.

const head = "format: 1\nframes:\n  - id: 0x100\n    signals:\n      rpm: {start: 0, length: 16, unit: rpm, role: engine_speed}\n"

// sig adds a signal to the first frame.
func sig(text string) string { return head + "      " + text + "\n" }

// frame adds a frame.
func frame(text string) string { return head + "  - " + text + "\n" }

// top adds top-level keys to a map with some signals.
func top(text string) string {
	return head +
		"      coolant: {start: 16, length: 8, offset: -40, unit: degC}\n" +
		"      turn: {start: 24, length: 2, values: {0: off, 1: left, 2: right}}\n" +
		"      brake: {start: 26, length: 1}\n" + text + "\n"
}

// when adds an inhibit with the given condition.
func when(text string) string { return top("inhibits:\n  - {name: x, when: " + text + "}") }

// mark is placed before each place where a mistake is to be found.
const mark = "▸"

var mistakes = []struct {
	name  string
	input string
	kinds []error
}{
	// The file.
	{"an empty file", mark, []error{ErrMissing}},
	{"comments only", mark + "# nothing\n", []error{ErrMissing}},
	{"a text", mark + "hello\n", []error{ErrType}},
	{"a list", mark + "- format: 1\n", []error{ErrType}},
	{"a byte that is not UTF-8", "format: 1\nnotes: caf" + mark + "\xe9\n", []error{ErrSyntax}},
	{"a control character", "format: 1\nnotes: a" + mark + "\x01b\n", []error{ErrSyntax}},
	{"a NUL after CRLF lines", "format: 1\r\nnotes: ü" + mark + "\x00\r\n", []error{ErrSyntax}},
	{"a line separator", "format: 1\nnotes: a" + mark + "\u2028b\n", []error{ErrSyntax}},
	{"a colon in a text", "format: 1\nnotes: a" + mark + ": b\n", []error{ErrSyntax}},
	{"a key glued to its value", sig("x: {start:" + mark + "16, length:" + mark + "1}"), []error{ErrSyntax, ErrSyntax}},
	{"a glued key in the role", strings.Replace(head, "role: ", "role:"+mark, 1), []error{ErrSyntax}},
	{"a glued key in a block", head + "      x:\n        start: 16\n        length:" + mark + "1\n        unit: V\n", []error{ErrSyntax}},
	{"a glued key at the end of a block", head + "      x:\n        start: 16\n        length:" + mark + "1\n", []error{ErrSyntax}},
	{"a glued key that begins a frame", "format: 1\nframes:\n  - id:" + mark + "0x100\n    signals:\n", []error{ErrSyntax}},
	{"a glued key before a bracket", sig("x:" + mark + "{start: 16, length: 1}"), []error{ErrSyntax}},
	{"a glued key before a bracket in brackets", sig("x: {start: 16, length: 1, values:" + mark + "{0: off}}"), []error{ErrSyntax}},
	{"a glued key at the top", "format:" + mark + "1\nframes: []\n", []error{ErrSyntax}},
	{"a key with a colon in quotes", sig("x: {start: 16, length: 1, " + mark + "\"role:ignition\"}"), []error{ErrUnknownKey}},
	{"a tab as indentation", "format: 1\nframes:\n" + mark + "\t- id: 1\n", []error{ErrSyntax}},
	{"a bracket not closed", "format: 1\nlimits: {flare: {max: 1}\n" + mark + "notes: x\n", []error{ErrSyntax}},
	{"a list bracket not closed", "format: 1\nconditions: [a, b\nnotes" + mark + ": x\n", []error{ErrSyntax}},
	{"a quote not closed", "format: 1\nnotes: " + mark + "\"abc\nframes: []\n", []error{ErrSyntax}},
	{"a key out of line", "format: 1\nframes:\n  - id: 1\n " + mark + "notes: x\n", []error{ErrSyntax}},
	{"a value that cannot begin so", "format: 1\nnotes: " + mark + "@home\n", []error{ErrSyntax}},
	{"an unknown anchor", "format: 1\nnotes: " + mark + "*n\n", []error{ErrSyntax}},
	{"an alias within its anchor", "format: 1\nframes: &f [" + mark + "*f]\n", []error{ErrSyntax}},
	{"a broken escape", "format: 1\nnotes: \"a" + mark + "\\q\"\n", []error{ErrSyntax}},
	{"a second document", sig("x: {start: 16, length: 1}") + "---\n" + mark + "format: 1\n", []error{ErrSyntax}},
	{"a second document that is broken", sig("x: {start: 16, length: 1}") + "---\n" + mark + "@\n", []error{ErrSyntax}},
	{"a merge key", head + "      x: &x {start: 16, length: 1}\n      y: {" + mark + "<<: *x, start: 17, length: 1}\n", []error{ErrUnknownKey}},
	{"a key that is a list", top("? " + mark + "[a]\n: 1"), []error{ErrType}},
	{"a tag", sig("x: {start: 16, length: " + mark + "!!float 1}"), []error{ErrType}},
	{"nested too deep", top("notes: " + mark + strings.Repeat("[", 64) + mark + "[]" + strings.Repeat("]", 64)), []error{ErrType, ErrTooLarge}},

	// Top level.
	{"no format", mark + strings.TrimPrefix(sig("x: {start: 16, length: 1}"), "format: 1\n"), []error{ErrMissing}},
	{"an unknown format", strings.Replace(head, "format: 1", "format: "+mark+"2", 1), []error{ErrRange}},
	{"a format in quotes", strings.Replace(head, "format: 1", "format: "+mark+"'1'", 1), []error{ErrType}},
	{"no frames", mark + "format: 1\n", []error{ErrMissing}},
	{"frames without any", "format: 1\nframes: " + mark + "[]\n", []error{ErrMissing}},
	{"frames as a mapping", "format: 1\nframes: " + mark + "{id: 1}\n", []error{ErrType}},
	{"no engine speed", "format: 1\n" + mark + "frames:\n  - {id: 1, signals: {a: {start: 0, length: 1}}}\n", []error{ErrMissing}},
	{"a misspelled top key", strings.Replace(head, "frames", mark+"fraems", 1), []error{ErrUnknownKey}},
	{"a misspelled key hides nothing and echoes nothing", strings.Replace(strings.Replace(top("conditions: [coolant]"), "frames", mark+"fraems", 1), "role: engine", mark+"roll: engine", 1), []error{ErrUnknownKey, ErrUnknownKey}},
	{"frames that cannot be read echo nothing", "format: 1\nframes: " + mark + "none\nconditions: [coolant]\ninhibits:\n  - {name: x, when: {signal: y, moves: " + mark + "0}}\n", []error{ErrType, ErrRange}},
	{"an unknown top key", top(mark + "colour: red"), []error{ErrUnknownKey}},
	{"a key given twice", top(mark + "format: 1"), []error{ErrDuplicate}},
	{"a vehicle that is a list", top("vehicle: " + mark + "[a]"), []error{ErrType}},
	{"notes without a text", top("notes:" + mark), []error{ErrType}},
	{"a control character by its escape", top("vehicle: " + mark + "\"a\\eb\""), []error{ErrType}},
	{"conditions that is a text", top("conditions: " + mark + "coolant"), []error{ErrType}},
	{"conditions with an unknown signal", top("conditions: [coolant, " + mark + "coolnat, " + mark + "zebra]"), []error{ErrUnknownSignal, ErrUnknownSignal}},
	{"conditions with a signal twice", top("conditions: [coolant, " + mark + "coolant]"), []error{ErrDuplicate}},

	// Entries.
	{"a frame that is a text", frame(mark + "x"), []error{ErrType}},
	{"a frame without a finder", frame(mark + "bus: can0"), []error{ErrMissing}},
	{"two finders", frame("{id: 1, " + mark + "pgn: 61444}"), []error{ErrConflict}},
	{"a misspelled frame key", frame("{" + mark + "idd: 1}"), []error{ErrUnknownKey}},
	{"an id too large", frame("id: " + mark + "0x20000000"), []error{ErrRange}},
	{"an id that is negative", frame("id: " + mark + "-1"), []error{ErrRange}},
	{"an id that is far too large", frame("id: " + mark + "123456789012345678901234567890"), []error{ErrRange}},
	{"an id without 0x", frame("id: " + mark + "1A0"), []error{ErrType}},
	{"an id with a fraction", frame("id: " + mark + "1.5"), []error{ErrType}},
	{"an id in quotes", frame("id: " + mark + "\"0x1A0\""), []error{ErrType}},
	{"extended false on a long id", frame("{id: 0x800, extended: " + mark + "false}"), []error{ErrConflict}},
	{"extended yes", frame("{id: 0x100, extended: " + mark + "yes}"), []error{ErrType}},
	{"extended with a pgn", frame("{pgn: 61444, " + mark + "extended: true}"), []error{ErrConflict}},
	{"source with an id", frame("{id: 1, " + mark + "source: 0}"), []error{ErrConflict}},
	{"address with an id", frame("{id: 1, " + mark + "address: 0}"), []error{ErrConflict}},
	{"a pgn too large", frame("pgn: " + mark + "0x40000"), []error{ErrRange}},
	{"a pgn that names a destination", frame("pgn: " + mark + "0xEA21"), []error{ErrRange}},
	{"a source too large", frame("{pgn: 61444, source: " + mark + "256}"), []error{ErrRange}},
	{"obd without its keys", frame("obd: " + mark + "{}"), []error{ErrMissing, ErrMissing, ErrMissing}},
	{"obd out of range", frame("obd: {mode: " + mark + "0x41, pid: " + mark + "0x100, response: " + mark + "0xFFFFFFFF}"), []error{ErrRange, ErrRange, ErrRange}},
	{"obd that is a number", frame("obd: " + mark + "12"), []error{ErrType}},
	{"did out of range", frame("did: {id: " + mark + "0x10000, response: 0x7E8, address: " + mark + "256}"), []error{ErrRange, ErrRange}},
	{"did that is a number", frame("did: " + mark + "0xF40D"), []error{ErrType}},
	{"did without an id", frame("did: " + mark + "{response: 0x7E8}"), []error{ErrMissing}},
	{"an address twice", frame("{did: {id: 1, response: 0x7E8, address: 1}, " + mark + "address: 1}"), []error{ErrConflict}},
	{"a bus that is empty", frame("{id: 1, bus: " + mark + "''}"), []error{ErrType}},
	{"a period without its unit", frame("{id: 1, period: " + mark + "20}"), []error{ErrDuration}},
	{"a period that is a list", frame("{id: 0x801, extended: " + mark + "[true], period: " + mark + "[1s]}"), []error{ErrType, ErrType}},
	{"a period that is a very large number", frame("{id: 1, period: " + mark + "1e12}"), []error{ErrDuration}},
	{"a period of nothing", frame("{id: 1, period: " + mark + "0ms}"), []error{ErrRange}},
	{"a period of more than a day", frame("{id: 1, period: " + mark + "25h}"), []error{ErrRange}},
	{"a misspelled sent", frame("{id: 1, sent: " + mark + "onchange}"), []error{ErrType}},
	{"an unknown sent", frame("{id: 1, sent: " + mark + "often}"), []error{ErrType}},
	{"signals that are a list", frame("{id: 1, signals: " + mark + "[a]}"), []error{ErrType}},

	// Signals.
	{"a signal that is a number", sig("x: " + mark + "7"), []error{ErrType}},
	{"a signal without a name", sig(mark + "'': {start: 16, length: 1}"), []error{ErrType}},
	{"a misspelled signal key", sig("x: {start: 16, " + mark + "lenght: 1}"), []error{ErrUnknownKey}},
	{"an unknown signal key", sig("x: {start: 16, length: 1, " + mark + "colour: red}"), []error{ErrUnknownKey}},
	{"a signal without start and length", sig("x: " + mark + "{unit: V}"), []error{ErrMissing, ErrMissing}},
	{"a signal key twice", sig("x: {start: 16, length: 1, " + mark + "start: 17}"), []error{ErrDuplicate}},
	{"a signal twice in a frame", sig(mark + "rpm: {start: 16, length: 1}"), []error{ErrDuplicate}},
	{"a signal twice in the map", frame("{id: 1, signals: {" + mark + "rpm: {start: 0, length: 1}}}"), []error{ErrDuplicate}},
	{"a copy of a signal", frame("{id: 0x100, signals: {" + mark + "rpm: {start: 0, length: 16, unit: rpm, role: engine_speed}}}"), []error{ErrDuplicate}},
	{"an unknown signal key that is long", sig("x: {start: 16, length: 1, " + mark + strings.Repeat("colour", 10) + ": red}"), []error{ErrUnknownKey}},
	{"a length of 0", sig("x: {start: 16, length: " + mark + "0}"), []error{ErrRange}},
	{"a length of 65", sig("x: {start: 16, length: " + mark + "65}"), []error{ErrRange}},
	{"a start beyond FD", sig("x: {start: " + mark + "512, length: 1}"), []error{ErrRange}},
	{"a field that ends beyond FD", sig("x: {start: " + mark + "500, length: 16}"), []error{ErrOutside}},
	{"a big-endian field that ends beyond FD", sig("x: {start: " + mark + "504, length: 8, order: big}"), []error{ErrOutside}},
	{"a field beyond its PID", frame("{obd: {mode: 1, pid: 0x0C, response: 0x7E8}, signals: {x: {start: " + mark + "8, length: 16}}}"), []error{ErrOutside}},
	{"a misspelled order", sig("x: {start: 16, length: 8, order: " + mark + "bgi}"), []error{ErrType}},
	{"an order of another kind", sig("x: {start: 16, length: 8, order: " + mark + "big_endian}"), []error{ErrType}},
	{"an order that is no order", sig("x: {start: 16, length: 8, order: " + mark + "network}"), []error{ErrType}},
	{"a float of 16 bits", sig("x: {start: 16, length: " + mark + "16, float: true}"), []error{ErrRange}},
	{"a signed float", sig("x: {start: 16, length: 32, float: true, " + mark + "signed: true}"), []error{ErrConflict}},
	{"signed on", sig("x: {start: 16, length: 8, signed: " + mark + "on}"), []error{ErrType}},
	{"float off", sig("x: {start: 16, length: 32, float: " + mark + "off}"), []error{ErrType}},
	{"float maybe", sig("x: {start: 16, length: 32, float: " + mark + "maybe}"), []error{ErrType}},
	{"overlapping bits", sig("x: {start: " + mark + "12, length: 8}"), []error{ErrOverlap}},
	{"one overlapping bit of a big-endian field", sig("x: {start: 16, length: 10, order: big}") /* bits 16, 31 to 24, 39 */ + "      y: {start: " + mark + "39, length: 1}\n      z: {start: 40, length: 1}\n", []error{ErrOverlap}},
	{"bits shared by many", sig("a: {start: 16, length: 1}\n      b: {start: 17, length: 1}\n      c: {start: 19, length: 1}\n      d: {start: 20, length: 1}\n      e: {start: 21, length: 1}\n      x: {start: " + mark + "16, length: 8}"), []error{ErrOverlap}},
	{"the same frame twice with shared bits", frame("{id: 0x100, signals: {x: {start: " + mark + "8, length: 1}}}"), []error{ErrOverlap}},
	{"factor 0", sig("x: {start: 16, length: 8, factor: " + mark + "0.0}"), []error{ErrRange}},
	{"a factor with a comma", sig("x: {start: 16, length: 8, factor: " + mark + "'0,5'}"), []error{ErrType}},
	{"a factor with a comma in braces", sig("x: {start: 16, length: 8, factor: 1," + mark + "5}"), []error{ErrUnknownKey}},
	{"a factor with a digit group", sig("x: {start: 16, length: 8, factor: " + mark + "1_000}"), []error{ErrType}},
	{"a factor with its unit", sig("x: {start: 16, length: 8, factor: " + mark + "0.5 V}"), []error{ErrType}},
	{"a factor that is infinite", sig("x: {start: 16, length: 8, factor: " + mark + "1e999}"), []error{ErrType}},
	{"a factor and an offset beyond reason", sig("x: {start: 16, length: 8, factor: " + mark + "-1e101, offset: " + mark + "1e300}"), []error{ErrRange, ErrRange}},
	{"an offset that is not a number", sig("x: {start: 16, length: 8, offset: " + mark + ".nan}"), []error{ErrType}},
	{"an offset without a value", sig("x: {start: 16, length: 8, offset: " + mark + "}"), []error{ErrType}},
	{"min above max", sig("x: {start: 16, length: 8, min: 5, max: " + mark + "3}"), []error{ErrRange}},
	{"invalid too large", sig("x: {start: 16, length: 8, invalid: [0xFF, " + mark + "0x100]}"), []error{ErrRange}},
	{"invalid negative", sig("x: {start: 16, length: 1, invalid: " + mark + "-1}"), []error{ErrRange}},
	{"invalid with a fraction", sig("x: {start: 16, length: 8, factor: 0.1, invalid: " + mark + "25.5}"), []error{ErrType}},
	{"invalid with a text", sig("x: {start: 16, length: 8, invalid: " + mark + "none}"), []error{ErrType}},
	{"tags on values and when", sig("x: {start: 16, length: 2, values: " + mark + "!x {0: a}, when: " + mark + "!x {rpm: 1}}"), []error{ErrType, ErrType}},
	{"values outside the field", sig("x: {start: 16, length: 2, values: {" + mark + "4: on}}"), []error{ErrRange}},
	{"values by bit pattern", sig("x: {start: 16, length: 8, signed: true, values: {" + mark + "0xFF: on}}"), []error{ErrRange}},
	{"values below a signed field", sig("x: {start: 16, length: 8, signed: true, values: {" + mark + "-129: on}}"), []error{ErrRange}},
	{"values the wrong way round", sig("x: {start: 16, length: 2, values: {" + mark + "off: 0}}"), []error{ErrType}},
	{"values without a text", sig("x: {start: 16, length: 2, values: {0: " + mark + "}}"), []error{ErrType}},
	{"values with one raw twice", sig("x: {start: 16, length: 2, values: {1: a, " + mark + "0x1: b}}"), []error{ErrDuplicate}},
	{"values that are a list", sig("x: {start: 16, length: 2, values: " + mark + "[off, on]}"), []error{ErrType}},
	{"values of a float", sig("x: {start: 16, length: 32, float: true, values: " + mark + "{0: off}}"), []error{ErrConflict}},

	// Roles.
	{"a misspelled role", sig("x: {start: 16, length: 8, unit: V, role: " + mark + "batery_voltage}"), []error{ErrRole}},
	{"a misspelled role with a misspelled unit", sig("x: {start: 16, length: 8, unit: " + mark + "Vlt, role: " + mark + "batery_voltage}"), []error{ErrUnit, ErrRole}},
	{"a misspelled role in a unit that it cannot be in", sig("x: {start: 16, length: 8, unit: " + mark + "rpm, role: " + mark + "batery_voltage}"), []error{ErrUnit, ErrRole}},
	{"an unknown role", sig("x: {start: 16, length: 8, role: " + mark + "radio}"), []error{ErrRole}},
	{"a role twice", sig("x: {start: 16, length: 8, unit: rpm, role: " + mark + "engine_speed}"), []error{ErrDuplicate}},
	{"a role that is a list", sig("x: {start: 16, length: 8, role: " + mark + "[ignition]}"), []error{ErrType}},
	{"a role without its unit", sig("x: {start: 16, length: 8, role: " + mark + "hold_pressure}"), []error{ErrUnit}},
	{"a role with a misspelled unit", sig("x: {start: 16, length: 8, unit: " + mark + "kap, role: hold_pressure}"), []error{ErrUnit}},
	{"a role with an unknown unit", sig("x: {start: 16, length: 8, unit: " + mark + "furlongs, role: vehicle_speed}"), []error{ErrUnit}},
	{"a role with the unit of something else", sig("x: {start: 16, length: 8, unit: " + mark + "psi, role: vehicle_speed}"), []error{ErrUnit}},
	{"a role with a unit that differs in case", sig("x: {start: 16, length: 8, unit: " + mark + "MV, role: battery_voltage}"), []error{ErrUnit}},
	{"a role with an empty unit", sig("x: {start: 16, length: 8, unit: " + mark + "'', role: battery_voltage}"), []error{ErrType}},
	{"a unit on a switch", sig("x: {start: 16, length: 8, unit: " + mark + "V, role: ignition}"), []error{ErrUnit}},
	{"a float as a switch", sig("x: {start: 16, length: 32, float: true, role: " + mark + "ignition}"), []error{ErrRole}},
	{"active on another role", sig("x: {start: 16, length: 8, " + mark + "active: 1, role: starter_count}"), []error{ErrRole}},
	{"active and clear without a role", sig("x: {start: 16, length: 8, " + mark + "active: 1, " + mark + "clear: 1}"), []error{ErrRole, ErrRole}},
	{"clear on another role", sig("x: {start: 16, length: 8, " + mark + "clear: 1, role: ignition}"), []error{ErrRole}},
	{"active with an unknown label", sig("x: {start: 16, length: 2, values: {0: off, 1: on}, active: " + mark + "no, role: ignition}"), []error{ErrLabel}},
	{"active with nothing", sig("x: {start: 16, length: 2, active: " + mark + "[], role: ignition}"), []error{ErrType}},
	{"an inhibit code without values", sig("x: {start: 16, length: 4, role: " + mark + "inhibit_code}"), []error{ErrRole}},
	{"clear outside the field", sig("x: {start: 16, length: 4, role: inhibit_code, values: {0: none}, clear: " + mark + "16}"), []error{ErrRange}},

	// Selectors.
	{"when that is a number", sig("x: {start: 16, length: 4, when: " + mark + "2}"), []error{ErrType}},
	{"when with an unknown signal", sig("x: {start: 16, length: 4, when: {" + mark + "prm: 2}}"), []error{ErrUnknownSignal}},
	{"when on itself", sig("x: {start: 16, length: 4, when: {" + mark + "x: 2}}"), []error{ErrCycle}},
	{"when on a signal of another frame", frame("{id: 1, signals: {x: {start: 16, length: 4, when: {" + mark + "rpm: 2}}}}"), []error{ErrUnknownSignal}},
	{"when on a float", sig("f: {start: 32, length: 32, float: true}\n      x: {start: 16, length: 4, when: {" + mark + "f: 2}}"), []error{ErrType}},
	{"when in a circle", sig("x: {start: 16, length: 4, when: {y: 2}}\n      y: {start: 20, length: 4, " + mark + "when: {x: 2}}"), []error{ErrCycle}},
	{"when with an unknown label", sig("p: {start: 20, length: 2, values: {0: front, 1: rear}}\n      x: {start: 16, length: 4, when: {p: [front, " + mark + "raer]}}"), []error{ErrLabel}},
	{"when outside the field", sig("p: {start: 20, length: 2}\n      x: {start: 16, length: 4, when: {p: " + mark + "4}}"), []error{ErrRange}},
	{"whens that do not exclude each other", sig("p: {start: 20, length: 2}\n      x: {start: 24, length: 4, when: {p: [1, 2]}}\n      y: {start: " + mark + "24, length: 4, when: {p: [2, 3]}}"), []error{ErrOverlap}},

	{"whens on different signals", sig("p: {start: 20, length: 1}\n      q: {start: 21, length: 1}\n      x: {start: 24, length: 4, when: {p: 1}}\n      y: {start: " + mark + "24, length: 4, when: {q: 1}}"), []error{ErrOverlap}},

	// Conditions.
	{"requests that are a mapping", top("restart_requests: " + mark + "{name: x}"), []error{ErrType}},
	{"a request without name and when", top("restart_requests:\n  - " + mark + "{by: driver}"), []error{ErrMissing, ErrMissing}},
	{"a request by nobody", top("restart_requests:\n  - {name: x, by: " + mark + "dirver, when: {signal: brake, is: 1}}\n  - {name: y, by: " + mark + "robot, when: {signal: brake, is: 1}}"), []error{ErrType, ErrType}},
	{"by on an inhibit", top("inhibits:\n  - {name: x, " + mark + "by: driver, when: {signal: brake, is: 1}}"), []error{ErrUnknownKey}},
	{"a name twice", top("inhibits:\n  - {name: x, when: {signal: brake, is: 1}}\n  - {name: " + mark + "x, when: {signal: brake, is: 0}}"), []error{ErrDuplicate}},
	{"bridge without its unit", top("inhibits:\n  - {name: x, bridge: " + mark + "800, for: " + mark + "0.2, when: {signal: brake, is: 1}}"), []error{ErrDuration, ErrDuration}},
	{"bridge negative, for with a strange unit", top("inhibits:\n  - {name: x, bridge: " + mark + "-800ms, for: " + mark + "2 sec, when: {signal: brake, is: 1}}"), []error{ErrDuration, ErrDuration}},
	{"bridge that is no duration", top("inhibits:\n  - {name: x, bridge: " + mark + "short, for: " + mark + "1.5.2s, when: {signal: brake, is: 1}}"), []error{ErrDuration, ErrDuration}},
	{"bridge of 41 characters, for of 40", top("inhibits:\n  - {name: x, bridge: " + mark + strings.Repeat("0", 38) + "1ms, for: " + strings.Repeat("0", 37) + "1ms, when: {signal: brake, is: 1}}"), []error{ErrDuration}},
	{"a condition that is a text", when(mark + "brake"), []error{ErrType}},
	{"an unknown signal", when("{signal: " + mark + "brke, is: 1}"), []error{ErrUnknownSignal}},
	{"no signal", when(mark + "{is: 1}"), []error{ErrMissing}},
	{"no comparison", when(mark + "{signal: brake}"), []error{ErrMissing}},
	{"two comparisons", when("{signal: coolant, above: 1, " + mark + "below: 2}"), []error{ErrConflict}},
	{"a misspelled comparison", when("{signal: coolant, " + mark + "abvoe: 1}"), []error{ErrUnknownKey}},
	{"above a label", when("{signal: turn, above: " + mark + "left}"), []error{ErrType}},
	{"between one number", when("{signal: coolant, between: " + mark + "5}"), []error{ErrType}},
	{"between the wrong way round", when("{signal: coolant, between: " + mark + "[5, 3]}"), []error{ErrRange}},
	{"outside with a text", when("{signal: coolant, outside: [" + mark + "low, 3]}"), []error{ErrType}},
	{"moves nothing", when("{signal: coolant, moves: " + mark + "0}"), []error{ErrRange}},
	{"an unknown label", when("{signal: turn, is: " + mark + "lfet}"), []error{ErrLabel}},
	{"a label that is not near", when("{signal: turn, is_not: [off, " + mark + "both]}"), []error{ErrLabel}},
	{"a label of a signal without labels", when("{signal: brake, is: " + mark + "on}"), []error{ErrLabel}},
	{"is with nothing", when("{signal: brake, is: " + mark + "[]}"), []error{ErrType}},
	{"is with a mapping", when("{signal: turn, is: " + mark + "{a: b}}"), []error{ErrType}},
	{"all that is a mapping", when("{all: " + mark + "{signal: brake, is: 1}}"), []error{ErrType}},
	{"any of none", when("{any: " + mark + "[]}"), []error{ErrType}},
	{"all with a signal beside it", when("{" + mark + "signal: brake, all: [{signal: brake, is: 1}]}"), []error{ErrConflict}},
	{"all with mistakes in each", when("{all: [{signal: " + mark + "x, is: 1}, {not: {signal: turn, is: " + mark + "x}}]}"), []error{ErrUnknownSignal, ErrLabel}},
	{"an unknown signal and a wrong number", when("{signal: " + mark + "x, between: " + mark + "[3, 1]}"), []error{ErrUnknownSignal, ErrRange}},
	{"conditions nested too deep", when(strings.Repeat("{not: ", 17) + mark + "{signal: brake, is: 1}" + strings.Repeat("}", 17)), []error{ErrRange}},

	{"an inhibit that is a text", top("inhibits: [" + mark + "x]"), []error{ErrType}},
	{"a signal that is a list", when("{signal: " + mark + "[coolant], is: 1}"), []error{ErrType}},
	{"one mistake behind two aliases", when("{any: [&a {signal: " + mark + "zebra, is: 1}, *a]}"), []error{ErrUnknownSignal}},
	{"a label of a signal whose values are wrong", sig("x: {start: 16, length: 1, values: {"+mark+"2: on}}") + "inhibits:\n  - {name: x, when: {signal: x, is: on}}\n", []error{ErrRange}},
	{"a label beside many", sig("x: {start: 16, length: 8, values: {"+manyLabels()+"}}") + "inhibits:\n  - {name: x, when: {signal: x, is: " + mark + "closed}}\n", []error{ErrLabel}},
	{"a tag on all", when("{all: " + mark + "!x [a]}"), []error{ErrType}},
	{"a tag on between", when("{signal: coolant, between: " + mark + "!x [1, 2]}"), []error{ErrType}},
	{"a tag on is", when("{signal: turn, is: " + mark + "!x left}"), []error{ErrType}},

	// Limits and settings.
	{"a misspelled metric", top("limits: {" + mark + "restart_latancy: {max: 1}}"), []error{ErrUnknownMetric}},
	{"an unknown metric", top("limits: {" + mark + "noise: {max: 1}}"), []error{ErrUnknownMetric}},
	{"limits that are a list", top("limits: " + mark + "[flare]"), []error{ErrType}},
	{"a limit that is a number", top("limits: {flare: " + mark + "1200}"), []error{ErrType}},
	{"a limit without ends", top("limits: {flare: " + mark + "{}}"), []error{ErrMissing}},
	{"a limit the wrong way round", top("limits: {flare: {min: 3, max: " + mark + "2}}"), []error{ErrRange}},
	{"a limit with its unit", top("limits: {restart_latency: {max: " + mark + "0.6s}}"), []error{ErrType}},
	{"a misspelled end of a limit", top("limits: {flare: {" + mark + "mx: 3}}"), []error{ErrUnknownKey}},
	{"settings that are a list", top("settings: " + mark + "[a]"), []error{ErrType}},
	{"a misspelled setting", top("settings: {" + mark + "runing_speed: 500}"), []error{ErrUnknownKey}},
	{"settings out of range", top("settings: {running_speed: " + mark + "0, system_voltage: " + mark + "13, starter_limit: " + mark + "-1, silence_factor: " + mark + "0.5}"), []error{ErrRange, ErrRange, ErrRange, ErrRange}},
	{"settings without their unit", top("settings: {running_hold: " + mark + "300, stale_after: " + mark + "2, no_start_after: " + mark + "0s}"), []error{ErrDuration, ErrDuration, ErrRange}},
	{"a rest speed above the running speed", top("settings: {rest_speed: " + mark + "600}"), []error{ErrRange}},
	{"a running speed below the rest speed", top("settings:\n  rest_speed: 30\n  running_speed: " + mark + "20"), []error{ErrRange}},
}

// manyLabels writes twenty labels.
func manyLabels() string {
	var labels []string
	for i := 0; i < 20; i++ {
		labels = append(labels, fmt.Sprintf("%d: step %d", i, i))
	}
	return strings.Join(labels, ", ")
}

func TestEveryMistakeIsFoundAtItsPlace(t *testing.T) {
	var listing strings.Builder
	for _, c := range mistakes {
		t.Run(c.name, func(t *testing.T) {
			input, want := places(c.input)
			m, err := Parse("map.yaml", []byte(input))
			if m != nil {
				t.Error("a map is handed out beside errors")
			}
			var list Errors
			if !errors.As(err, &list) {
				t.Fatalf("got %v, want Errors", err)
			}
			var got []string
			for _, e := range list {
				got = append(got, fmt.Sprintf("%d:%d", e.Line, e.Column))
			}
			for len(want) < len(c.kinds) { // several mistakes at one place
				want = append(want, want[len(want)-1])
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("places (-want +got):\n%s\n%s", diff, list.Show())
			}
			for i, e := range list {
				if i < len(c.kinds) && !errors.Is(e, c.kinds[i]) {
					t.Errorf("%v is of kind %q, want %q", e, e.Unwrap(), c.kinds[i])
				}
			}
			fmt.Fprintf(&listing, "# %s\n%s\n\n", c.name, list.Show())
		})
	}
	golden(t, "mistakes.golden", listing.String())
}

// places takes the marks out of a text and returns them as line:column, counted
// in characters.
func places(text string) (plain string, at []string) {
	for {
		before, after, found := strings.Cut(text, mark)
		if !found {
			return text, at
		}
		line := strings.Count(before, "\n") + 1
		column := len([]rune(before[strings.LastIndexByte(before, '\n')+1:])) + 1
		at = append(at, fmt.Sprintf("%d:%d", line, column))
		text = before + after
	}
}
