//go:build attack && linux

package attack

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"lull/cmd/lull/internal/sample/driven"
	"lull/decode/live"
)

// writers are the commands that write a file; the last word is where to.
var writers = [][]string{
	{"samples", "drive.log", "-o", "out.csv"},
	{"samples", "drive.log", "--format", "ndjson", "-o", "out.ndjson"},
	{"episodes", "drive.log", "-o", "out.csv"},
	{"episodes", "drive.log", "-o", "out.json"},
	{"episodes", "drive.log", "-o", "out.xlsx"},
	{"standstills", "drive.log", "-o", "out.csv"},
	{"frames", "drive.log", "-o", "out.json"},
	{"report", "drive.log", "-o", "out.html"},
	{"report", "drive.log", "-o", "out.pdf"},
}

// onto is the command with another place to write to, the format as it was.
func onto(args []string, path string) []string {
	args = slices.Clone(args)
	name := args[len(args)-1]
	args[len(args)-1] = path
	if args[2] == "-o" {
		args = append(args, "--format", filepath.Ext(name)[1:])
	}
	return args
}

// noRoom is a line that says that there is no room, and what to do.
var noRoom = regexp.MustCompile(`(?m)^lull: .*(disk|room|space|larg|grow|limit|quota).*; .`)

// told demands a failure that says what went wrong and what to do.
func (p *process) told(status int) {
	p.t.Helper()
	if text := p.err.String(); status != 1 || !noRoom.MatchString(text) {
		p.t.Errorf("lull %q: status %d, says %q", p.Args[1:], status, text)
	}
}

// A disk that is full is told, with status 1 and what to do, wherever the output goes.
func TestAFullDeviceIsTold(t *testing.T) {
	folder := t.TempDir()
	write(t, filepath.Join(folder, "map.yaml"), []byte(driven.CarMap))
	write(t, filepath.Join(folder, "drive.log"), []byte(drive(20)))
	before := files(t, folder)
	for _, args := range writers {
		p := command(t, folder, onto(args, "/dev/full")...)
		p.told(p.run(10 * time.Second))
		p = script(t, folder, "LULL > /dev/full", onto(args, "-")...)
		if slices.Contains(p.Args, "html") || slices.Contains(p.Args, "pdf") || slices.Contains(p.Args, "xlsx") {
			p = script(t, folder, "LULL > /dev/full", onto(args, "/dev/stdout")...)
		}
		p.told(p.run(10 * time.Second))
	}
	for _, args := range [][]string{{"map", "show", "map.yaml"}, {"map", "check", "map.yaml"}, {"metrics"}, {"version"}, {"episodes", "--help"}, {"serve"}, {"completion", "bash"}} {
		p := script(t, folder, "LULL > /dev/full", args...)
		p.told(p.run(10 * time.Second))
	}
	for _, args := range [][]string{{"record", "-o", "/dev/full"}, {"serve", "-o", "/dev/full", "--interface"}} {
		p := command(t, folder, append(args, playsTicks(t, 1000, 0))...)
		p.begin()
		if args[0] == "serve" {
			addressed(p)
			time.Sleep(time.Second)
			p.interrupt()
		}
		p.told(p.status(10 * time.Second))
	}
	if after := files(t, folder); !slices.Equal(before, after) {
		t.Errorf("there are %q, before %q", after, before)
	}
}

// Where a file may grow no further, as by a quota, the old file stays, nothing that is
// half-written does, and a recording is cut back to whole lines.
func TestAFileThatMayNotGrowLeavesNothingHalfWritten(t *testing.T) {
	folder := t.TempDir()
	write(t, filepath.Join(folder, "map.yaml"), []byte(driven.CarMap))
	write(t, filepath.Join(folder, "drive.log"), []byte(drive(20)))
	fails(t, folder, "ulimit -f 4; LULL")
}

// fails runs all writers where there is no room for what they write: about 2 KiB.
func fails(t *testing.T, folder, shell string) {
	t.Helper()
	const old = "the old file\n"
	for _, args := range writers {
		if args[0] == "standstills" || args[0] == "frames" {
			continue // what they write is short
		}
		path := write(t, filepath.Join(folder, args[len(args)-1]), []byte(old))
		before := files(t, folder)
		p := script(t, folder, shell, args...)
		p.told(p.run(10 * time.Second))
		if got := read(t, path); got != old {
			t.Errorf("lull %q: the old file has %d bytes", args, len(got))
		}
		if after := files(t, folder); !slices.Equal(before, after) {
			t.Errorf("lull %q: there are %q, before %q", args, after, before)
		}
		os.Remove(path)
	}
	for _, name := range []string{"rec.log", "rec.log.zst"} {
		address := car(t, plays(func(w *live.Writer) error {
			for n := range 200_000 {
				f := tick(n)
				f.Data[2], f.Data[3], f.Data[4], f.Data[5] = byte(n*7919>>3), byte(n*104729>>5), byte(n*1299709>>7), byte(n*15485863>>11) // hard to pack
				if err := w.Frame(&f); err != nil {
					return err
				}
				if n%100 == 0 {
					w.Flush()
					time.Sleep(5 * time.Millisecond)
				}
			}
			return w.End()
		}))
		p := script(t, folder, shell, "record", address, "-o", name)
		p.told(p.run(15 * time.Second))
		log, err := os.ReadFile(filepath.Join(folder, name))
		if os.IsNotExist(err) {
			continue // not even the first part had room
		}
		if strings.HasSuffix(name, ".zst") {
			log = unpackedUpTo(log)
		}
		if err != nil || len(log) > 0 && !bytes.HasSuffix(log, []byte("\n")) {
			t.Errorf("%s: %v, ends %q", name, err, log[max(0, len(log)-50):])
		}
		os.Remove(filepath.Join(folder, name))
	}
}

// The same on a disk that is really full, of which only root can make one; there the page
// refuses a drop and goes on.
func TestADiskThatIsFullLeavesNothingHalfWritten(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("SKIPPED: only root can mount a small disk")
	}
	folder := t.TempDir()
	if err := syscall.Mount("attack", folder, "tmpfs", 0, "size=600k"); err != nil {
		t.Skip("SKIPPED: no small disk can be mounted here: ", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(folder, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	write(t, filepath.Join(folder, "map.yaml"), []byte(driven.CarMap))
	write(t, filepath.Join(folder, "drive.log"), []byte(drive(20)))
	filler := filepath.Join(folder, "filler")
	fill(t, filler, 8<<10)
	fails(t, folder, "LULL")

	os.Remove(filler)
	before := files(t, folder)
	s := serve(t, folder)
	if at, said := s.drop(mapPart("map.yaml", driven.CarMap), logPart("a.log", strings.Repeat(drive(20), 4))); at != "" || !strings.Contains(said, "; ") {
		t.Errorf("a drop for which there is no room: %q %q", at, said)
	}
	if status, _, _ := s.get("/"); status != 200 {
		t.Errorf("then the page has status %d", status)
	}
	s.end()
	if after := files(t, folder); !slices.Equal(before, after) {
		t.Errorf("there are %q, before %q", after, before)
	}
}

// fill writes a file until the disk has only so many bytes left.
func fill(t *testing.T, path string, left int64) {
	t.Helper()
	var disk syscall.Statfs_t
	if err := syscall.Statfs(filepath.Dir(path), &disk); err != nil {
		t.Fatal(err)
	}
	write(t, path, make([]byte, int64(disk.Bavail)*disk.Bsize-left))
}
