//go:build attack && linux

package attack

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A recorder that is told to record into what another one records into refuses, as
// long as the other lives and afterwards, however early it comes; the first one's log is
// whole, and nothing else is there.
func TestTwoRecordersNeverShareALog(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"drive.log", "drive.log.zst"} {
		for _, later := range []time.Duration{20 * time.Millisecond, 200 * time.Millisecond, 900 * time.Millisecond} {
			t.Run(name+", "+later.String()+" later", func(t *testing.T) {
				t.Parallel()
				secondRecorder(t, name, later)
			})
		}
	}
}

func secondRecorder(t *testing.T, name string, later time.Duration) {
	folder := t.TempDir()
	address := playsTicks(t, 1000, 1500*time.Millisecond)
	first := command(t, folder, "record", address, "-o", name, "--quiet").begin()
	soon(t, 5*time.Second, "the first one's log", func() bool { return len(files(t, folder)) > 0 })
	time.Sleep(later)
	second := command(t, folder, "record", address, "-o", name, "--quiet")
	if status := second.run(5 * time.Second); status != 1 || !strings.Contains(second.err.String(), "; ") {
		t.Errorf("status %d, says %q", status, second.err.String())
	}
	if status := first.status(5 * time.Second); status != 0 {
		t.Errorf("the first one: status %d, says %q", status, first.err.String())
	}
	third := command(t, folder, "record", address, "-o", name, "--quiet")
	if status := third.run(5 * time.Second); status != 1 {
		t.Errorf("after it: status %d, says %q", status, third.err.String())
	}
	log, err := os.ReadFile(filepath.Join(folder, name))
	if strings.HasSuffix(name, ".zst") {
		log = unpackedUpTo(log)
	}
	if !bytes.Equal(log, ticks(1000)) {
		t.Errorf("the first one's log has %d lines of 1000, %v", bytes.Count(log, []byte("\n")), err)
	}
	if left := files(t, folder); len(left) != 1 {
		t.Errorf("there are %q", left)
	}
}

// Of recorders that start at the same moment with one name one records; without a name
// each has a log of its own. lull record and lull serve are alike in that.
func TestRecordersThatStartAtOnceHaveDistinctLogs(t *testing.T) {
	const atOnce = 8
	for _, named := range []bool{true, false} {
		folder := t.TempDir()
		address := playsTicks(t, 500, time.Second)
		var all []*process
		for n := range atOnce {
			args := []string{"record", address, "--quiet"}
			if n%4 == 3 {
				args = []string{"serve", "--interface", address, "--quiet"}
			}
			if named {
				args = append(args, "-o", "drive.log")
			}
			p := command(t, folder, args...)
			p.Env = append(p.Env, "TMPDIR="+t.TempDir())
			all = append(all, p.begin())
		}
		recorded := 0
		for n, p := range all {
			if n%4 == 3 { // it serves on when the recording has ended
				select {
				case <-p.ended:
				case <-time.After(time.Second):
					p.interrupt()
				}
			}
			if p.status(5*time.Second) == 0 {
				recorded++
			} else if !named {
				t.Errorf("lull %q: %s", p.Args[1:], p.err.String())
			}
		}
		want := atOnce
		if named {
			want = 1
		}
		left := files(t, folder)
		if recorded != want || len(left) != want {
			t.Errorf("one name %v: %d recorded, there are %q", named, recorded, left)
		}
		for _, name := range left {
			if got := read(t, filepath.Join(folder, name)); got != string(ticks(500)) {
				t.Errorf("one name %v: %s has %d lines of 500", named, name, strings.Count(got, "\n"))
			}
		}
	}
}
