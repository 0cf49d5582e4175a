// Package marks reads and writes what a person marked by hand while a drive was recorded:
// when the brake was pressed, when the turn lamp was on, what the dashboard showed. A mark
// is a line `NAME FROM TO [VALUE UNIT]`, its times in seconds from the first frame of the
// log; # begins a comment. Start with Parse.
package marks

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"lull/pkg/failure"
)

// Mark is a time in which something was done, or something was read off.
type Mark struct {
	Name     string  // without blanks
	From, To float64 // s from the first frame of the log
	HasValue bool
	Value    float64
	Unit     string // without blanks; empty if none was given
}

// maxBytes is how much of a file is read: far more than a hand can mark.
const maxBytes = 4 << 20

// Load reads a file of marks. Its error is a *failure.Failure, or what the system says.
func Load(path string) ([]Mark, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, maxBytes+1))
	if err != nil {
		return nil, err
	}
	if len(data) > maxBytes {
		return nil, &failure.Failure{Where: path, What: "too large for a file of marks", Hint: "give lines such as `brake 12.3 15.0`"}
	}
	return Parse(path, data)
}

// Parse reads marks. The error is a *failure.Failure that names the first line that is
// none.
func Parse(name string, data []byte) ([]Mark, error) {
	var list []Mark
	lines := bufio.NewScanner(bytes.NewReader(bytes.TrimPrefix(data, []byte("\uFEFF"))))
	lines.Buffer(nil, maxBytes+1)
	for n := 1; lines.Scan(); n++ {
		text, _, _ := strings.Cut(lines.Text(), "#")
		fields := strings.Fields(text)
		if len(fields) == 0 {
			continue
		}
		m, what := parse(fields)
		if what != "" {
			return nil, &failure.Failure{Where: fmt.Sprintf("%s:%d", name, n), What: what, Hint: "a mark is NAME FROM TO [VALUE UNIT], such as `brake 12.3 15.0` or `vehicle_speed 83 84 50 km/h`"}
		}
		list = append(list, m)
	}
	return list, lines.Err()
}

func parse(fields []string) (m Mark, what string) {
	if len(fields) < 3 || len(fields) > 5 {
		return m, fmt.Sprintf("%d words instead of 3, 4 or 5", len(fields))
	}
	m.Name = fields[0]
	var ok bool
	if m.From, ok = number(fields[1]); !ok {
		return m, fmt.Sprintf("the time %q is no number of seconds", fields[1])
	}
	if m.To, ok = number(fields[2]); !ok {
		return m, fmt.Sprintf("the time %q is no number of seconds", fields[2])
	}
	if m.To < m.From {
		return m, fmt.Sprintf("it ends at %s s, before it begins at %s s", fields[2], fields[1])
	}
	if len(fields) > 3 {
		if m.Value, ok = number(fields[3]); !ok {
			return m, fmt.Sprintf("the value %q is no number", fields[3])
		}
		m.HasValue = true
	}
	if len(fields) > 4 {
		m.Unit = fields[4]
	}
	return m, ""
}

func number(text string) (float64, bool) {
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil && !math.IsInf(v, 0) && !math.IsNaN(v) && !strings.ContainsAny(text, "xX_")
}

// Append writes a mark as a line.
func Append(out []byte, m Mark) []byte {
	out = append(out, m.Name...)
	out = append(out, ' ')
	out = strconv.AppendFloat(out, m.From, 'f', 2, 64)
	out = append(out, ' ')
	out = strconv.AppendFloat(out, m.To, 'f', 2, 64)
	if m.HasValue {
		out = append(out, ' ')
		out = strconv.AppendFloat(out, m.Value, 'f', -1, 64)
		if m.Unit != "" {
			out = append(out, ' ')
			out = append(out, m.Unit...)
		}
	}
	return append(out, '\n')
}
