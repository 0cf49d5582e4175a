package marks

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestMarksAreReadFromLines(t *testing.T) {
	got, err := Parse("drive.marks", []byte("\uFEFF# by hand\r\nbrake 12.3 15.0\r\n\n  turn_left\t20 22 # late\nvehicle_speed 83 84 50 km/h\ncoolant 90 90 -4.5\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := []Mark{
		{Name: "brake", From: 12.3, To: 15},
		{Name: "turn_left", From: 20, To: 22},
		{Name: "vehicle_speed", From: 83, To: 84, HasValue: true, Value: 50, Unit: "km/h"},
		{Name: "coolant", From: 90, To: 90, HasValue: true, Value: -4.5},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestAFileIsReadUpToASize(t *testing.T) {
	path := filepath.Join(t.TempDir(), "drive.marks")
	if _, err := Load(path); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("no file: %v", err)
	}
	const line = "brake 1 2\n"
	write := func(text string) {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(line + strings.Repeat("#", maxBytes-len(line)))
	if got, err := Load(path); err != nil || len(got) != 1 || got[0] != (Mark{Name: "brake", From: 1, To: 2}) {
		t.Errorf("%v, %v", got, err)
	}
	write(line + strings.Repeat("#", maxBytes-len(line)+1))
	if _, err := Load(path); err == nil || !strings.Contains(err.Error(), path+": too large") {
		t.Errorf("one byte too many: %v", err)
	}
	write("brake\n")
	if _, err := Load(path); err == nil || !strings.Contains(err.Error(), path+":1: 1 words") {
		t.Errorf("no mark: %v", err)
	}
}

func TestALineThatIsNoMarkIsToldByItsNumber(t *testing.T) {
	for line, want := range map[string]string{
		"brake":              "1 words instead of 3, 4 or 5",
		"brake x 2":          `the time "x" is no number of seconds`,
		"brake 1 NaN":        `the time "NaN" is no number of seconds`,
		"brake -Inf 2":       `the time "-Inf" is no number of seconds`,
		"brake 1 +Inf":       `the time "+Inf" is no number of seconds`,
		"brake 0x1 2":        `the time "0x1" is no number of seconds`,
		"brake 2 1":          "it ends at 1 s, before it begins at 2 s",
		"speed 1 2 fast":     `the value "fast" is no number`,
		"speed 1 2 5 km/h x": "6 words instead of 3, 4 or 5",
	} {
		_, err := Parse("a.marks", []byte("brake 1 2\n"+line+"\n"))
		if err == nil || !strings.Contains(err.Error(), "a.marks:2") || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", line, err, want)
		}
	}
}

func TestAMarkThatIsWrittenIsReadBack(t *testing.T) {
	for _, m := range []Mark{{Name: "brake", From: 1.25, To: 2}, {Name: "x", From: 0, To: 0.5, HasValue: true, Value: 50, Unit: "km/h"}, {Name: "y", To: 1, HasValue: true, Value: -3.25}} {
		line := Append(nil, m)
		got, err := Parse("", line)
		if err != nil || len(got) != 1 || got[0] != m {
			t.Errorf("%q is read as %v, %v", line, got, err)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte("brake 1 2\nspeed 3 4 50 km/h\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := Parse("x", data)
		if err != nil {
			return
		}
		for _, m := range list {
			if m.To < m.From || m.Name == "" || strings.ContainsAny(m.Name, " \t\n") {
				t.Fatal(fmt.Sprint(m))
			}
		}
	})
}
