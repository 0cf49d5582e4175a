//go:build attack && linux

package attack

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"lull/cmd/lull/internal/sample/driven"
)

// A log or map that is read is never written over, by whatever name it is called: the
// shell's redirection, a link, another spelling. It is refused, and stays as it is.
func TestWhatIsReadIsNeverWrittenOver(t *testing.T) {
	log := drive(20)
	for _, row := range []struct {
		name, shell string
		args        []string
	}{
		{"by name", "", []string{"samples", "z.log", "-o", "z.log", "--format", "csv"}},
		{"by another spelling", "", []string{"samples", "z.log", "-o", ".//z.log", "--format", "csv"}},
		{"by a link", "", []string{"samples", "z.log", "-o", "link.log", "--format", "csv"}},
		{"by a second name", "", []string{"samples", "z.log", "-o", "hard.log", "--format", "csv"}},
		{"read by a link", "", []string{"samples", "link.log", "-o", "z.log", "--format", "csv"}},
		{"one of several", "", []string{"episodes", "other.log", "z.log", "-o", "z.log", "--format", "csv"}},
		{"one of a folder", "", []string{"episodes", ".", "-o", "z.log", "--format", "csv"}},
		{"redirected", "LULL < z.log", []string{"samples", "-", "--map", "map.yaml", "-o", "z.log", "--format", "csv"}},
		{"redirected, by a link", "LULL < z.log", []string{"samples", "-", "--map", "map.yaml", "-o", "link.log", "--format", "csv"}},
		{"redirected, by a second name", "LULL < z.log", []string{"samples", "-", "--map", "map.yaml", "-o", "hard.log", "--format", "csv"}},
		{"redirected, episodes", "LULL < z.log", []string{"episodes", "-", "--map", "map.yaml", "--format", "csv", "-o", "z.log"}},
		{"redirected, frames", "LULL < z.log", []string{"frames", "-", "--format", "csv", "-o", "z.log"}},
		{"redirected, report", "LULL < z.log", []string{"report", "-", "--map", "map.yaml", "--format", "html", "-o", "z.log"}},
		{"by its descriptor", "LULL < z.log", []string{"samples", "/dev/stdin", "--map", "map.yaml", "-o", "z.log", "--format", "csv"}},
		{"the side before a repair", "", []string{"report", "other.log", "--before", "z.log", "--format", "html", "-o", "z.log"}},
		{"the map", "", []string{"episodes", "z.log", "--format", "csv", "-o", "map.yaml"}},
		{"the map, by a link", "", []string{"episodes", "z.log", "--format", "csv", "-o", "maplink"}},
		{"a recording of it", "", []string{"record", "unix:none", "-o", "z.log"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			folder := t.TempDir()
			write(t, filepath.Join(folder, "map.yaml"), []byte(driven.CarMap))
			write(t, filepath.Join(folder, "other.log"), []byte(drive(3)))
			path := write(t, filepath.Join(folder, "z.log"), []byte(log))
			for link, to := range map[string]string{"link.log": "z.log", "maplink": "map.yaml"} {
				if err := os.Symlink(to, filepath.Join(folder, link)); err != nil {
					t.Fatal(err)
				}
			}
			if err := os.Link(path, filepath.Join(folder, "hard.log")); err != nil {
				t.Fatal(err)
			}
			before := files(t, folder)
			p := script(t, folder, row.shell, row.args...)
			if status := p.run(10 * time.Second); status != 1 && status != 2 {
				t.Errorf("status %d, says %q", status, p.err.String())
			}
			if got := read(t, path); got != log {
				t.Errorf("the log had %d bytes and has %d", len(log), len(got))
			}
			if got := read(t, filepath.Join(folder, "map.yaml")); got != driven.CarMap {
				t.Errorf("the map is now %.50q", got)
			}
			if after := files(t, folder); !slices.Equal(before, after) {
				t.Errorf("there are %q, before %q", after, before)
			}
		})
	}
}

// Nor is one that standard output is appended to, which the program sees as well as
// cat does: it is refused before anything is written.
func TestALogIsNotReadWhileTheOutputIsAppendedToIt(t *testing.T) {
	log := drive(20)
	for _, row := range []struct {
		name, shell string
		args        []string
	}{
		{"redirected", "ulimit -f 8192; LULL < z.log >> z.log", []string{"samples", "-", "--map", "map.yaml"}},
		{"by name", "ulimit -f 8192; LULL >> z.log", []string{"samples", "z.log"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			folder := t.TempDir()
			write(t, filepath.Join(folder, "map.yaml"), []byte(driven.CarMap))
			path := write(t, filepath.Join(folder, "z.log"), []byte(log))
			p := script(t, folder, row.shell, row.args...)
			if status := p.run(10 * time.Second); status != 1 && status != 2 {
				t.Errorf("status %d, says %.200q", status, p.err.String())
			}
			if got := read(t, path); got != log {
				t.Errorf("the log had %d bytes and has %d", len(log), len(got))
			}
		})
	}
}
