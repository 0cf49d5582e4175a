//go:build attack && linux

package attack

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"lull/cmd/lull/internal/sample/driven"
)

// A program that is killed while it writes leaves the file that was there, or the new
// one, in whole, and the next run takes away what else it left.
func TestAKilledWriterLeavesTheOldFileOrTheNewOne(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	folder := t.TempDir()
	write(t, filepath.Join(folder, "map.yaml"), []byte(driven.CarMap))
	write(t, filepath.Join(folder, "drive.log"), []byte(drive(600)))
	for _, args := range [][]string{
		{"samples", "drive.log", "-o", "out.csv"},
		{"episodes", "drive.log", "-o", "out.csv"},
		{"report", "drive.log", "-o", "out.html"},
	} {
		name := args[len(args)-1]
		began := time.Now()
		if p := command(t, folder, args...); p.run(20*time.Second) != 0 {
			t.Fatal(p.err.String())
		}
		takes := time.Since(began)
		whole := read(t, filepath.Join(folder, name))
		const old = "the old file\n"
		for range 20 {
			write(t, filepath.Join(folder, name), []byte(old))
			p := command(t, folder, args...).begin()
			time.Sleep(time.Duration(random.Int64N(int64(takes))))
			p.kill()
			if got := read(t, filepath.Join(folder, name)); got != old && got != whole {
				t.Errorf("lull %q, killed: %s has %d bytes, neither the old %d nor the new %d", args, name, len(got), len(old), len(whole))
			}
		}
		if p := command(t, folder, args...); p.run(20*time.Second) != 0 || read(t, filepath.Join(folder, name)) != whole {
			t.Errorf("lull %q, after the kills: %s", args, p.err.String())
		}
		if left := files(t, folder); !slices.Equal(left, []string{"drive.log", "map.yaml", name}) {
			t.Errorf("lull %q, after the kills and a run to the end, leaves %q", args, left)
		}
		for _, stray := range files(t, folder) {
			if stray != "drive.log" && stray != "map.yaml" {
				os.Remove(filepath.Join(folder, stray))
			}
		}
	}
}

// What one run clears away is never what another one writes just now.
func TestWritersInOneFolderLeaveEachOtherAlone(t *testing.T) {
	folder := t.TempDir()
	write(t, filepath.Join(folder, "map.yaml"), []byte(driven.CarMap))
	write(t, filepath.Join(folder, "drive.log"), []byte(drive(200)))
	write(t, filepath.Join(folder, "short.log"), []byte(drive(1)))
	for range 3 {
		var long []*process
		for n := range 3 {
			long = append(long, command(t, folder, "samples", "drive.log", "-o", fmt.Sprintf("%d.csv", n)).begin())
		}
		for range 5 {
			if p := command(t, folder, "episodes", "short.log", "-o", "short.csv"); p.run(10*time.Second) != 0 {
				t.Error(p.err.String())
			}
		}
		for _, p := range long {
			if p.status(20*time.Second) != 0 {
				t.Error(p.err.String())
			}
		}
		if one := read(t, filepath.Join(folder, "0.csv")); one == "" || one != read(t, filepath.Join(folder, "1.csv")) || one != read(t, filepath.Join(folder, "2.csv")) {
			t.Error("what they wrote is not alike")
		}
	}
	if left := files(t, folder); len(left) != 7 {
		t.Errorf("there are %q", left)
	}
}
