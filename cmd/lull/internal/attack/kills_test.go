//go:build attack && linux

package attack

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/klauspost/compress/zstd"

	"lull/decode"
	"lull/decode/candump"
	"lull/decode/live"
)

// ticking is a car that sends a frame every few milliseconds, numbered from 0. Number
// tells how many had been sent by a moment.
type ticking struct {
	mutex sync.Mutex
	sent  []time.Time
}

func (k *ticking) feed(c net.Conn) {
	w := live.NewWriter(c)
	for n := 0; ; n++ {
		f := tick(n)
		if errors.Join(w.Frame(&f), w.Flush()) != nil {
			return
		}
		k.mutex.Lock()
		k.sent = append(k.sent, time.Now())
		k.mutex.Unlock()
		time.Sleep(4 * time.Millisecond)
	}
}

func tick(n int) decode.Frame {
	return decode.Frame{Bus: "can0", ID: 0x123, Len: 8, Time: driveBegan*1e9 + int64(n)*4e6, Data: [64]byte{byte(n), byte(n >> 8)}}
}

func (k *ticking) number(by time.Time) int {
	k.mutex.Lock()
	defer k.mutex.Unlock()
	n, _ := slices.BinarySearchFunc(k.sent, by, time.Time.Compare)
	return n
}

// ticks is the log of the first n frames.
func ticks(n int) (log []byte) {
	for i := range n {
		f := tick(i)
		log = candump.AppendFrame(log, &f)
	}
	return log
}

// A recorder that is killed at any moment leaves a log of whole lines, nothing else
// beside it, up to its last second; a packed one reads up to there.
func TestAKilledRecorderLeavesWholeLines(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(1, 2))
	var working sync.WaitGroup
	var kept atomic.Int64
	for range 24 {
		lives := time.Duration(random.Int64N(int64(3 * time.Second)))
		name := []string{"drive.log", "drive.log.zst"}[random.IntN(2)]
		folder := t.TempDir()
		k := &ticking{}
		p := command(t, folder, "record", car(t, k.feed), "-o", name, "--quiet").begin()
		working.Go(func() {
			time.Sleep(lives)
			killed := time.Now()
			p.kill()
			must := k.number(killed.Add(-time.Second))
			left := files(t, folder)
			if len(left) == 0 && must == 0 {
				return
			}
			if len(left) != 1 || left[0] != name {
				t.Errorf("killed after %v, %s leaves %q", lives, name, left)
				return
			}
			log, _ := os.ReadFile(filepath.Join(folder, name))
			if strings.HasSuffix(name, ".zst") {
				log = unpackedUpTo(log)
			}
			whole := ticks(bytes.Count(log, []byte("\n")))
			if !bytes.Equal(log, whole) {
				t.Errorf("killed after %v, %s: it is not the first frames in whole lines: ends %q", lives, name, log[max(0, len(log)-100):])
			}
			if got := bytes.Count(log, []byte("\n")); got < must {
				t.Errorf("killed after %v, %s: %d frames, and %d were sent a second before", lives, name, got, must)
			}
			kept.Add(int64(len(log)))
		})
	}
	working.Wait()
	if kept.Load() == 0 {
		t.Error("none was killed late enough to have kept anything")
	}
}

// unpackedUpTo is what can be unpacked of a file that may be cut off.
func unpackedUpTo(packed []byte) []byte {
	r, err := zstd.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil
	}
	defer r.Close()
	text, _ := io.ReadAll(r) // its end is the cut
	return text
}

// A server that is killed at any moment, at its start, with a drop under way, idle or while it clears
// away, leaves nothing once the next one has started, and the next one leaves alone what
// one that lives has.
func TestTheNextServerClearsAwayWhatKilledOnesLeft(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(3, 4))
	folder := t.TempDir()
	lives := serve(t, folder)
	at, said := lives.drop(mapPart("map.yaml", carMap), logPart("lives.log", drive(2)))
	if at == "" {
		t.Fatal(said)
	}
	owned := files(t, folder)
	next := func(after string) {
		t.Helper()
		s := serve(t, folder)
		soon(t, 2*time.Second, "only the folders of two that live, after one was killed "+after, func() bool {
			roots, _ := filepath.Glob(filepath.Join(folder, "lull-serve-*"))
			return len(roots) == 2
		})
		s.end()
		// The rest of this test is about those that come.
		for _, name := range files(t, folder) {
			if !slices.Contains(owned, name) {
				os.RemoveAll(filepath.Join(folder, name))
			}
		}
	}
	for range 12 { // at its start
		p := command(t, folder, "serve").begin()
		time.Sleep(time.Duration(random.Int64N(int64(60 * time.Millisecond))))
		p.kill()
	}
	next("at its start")
	for range 3 { // with what was dropped
		s := serve(t, folder)
		if at, said := s.drop(mapPart("map.yaml", carMap), logPart("a.log", drive(1))); at == "" {
			t.Error(said)
		}
		s.kill()
	}
	next("idle")
	for range 3 { // with a drop under way
		s := serve(t, folder)
		dropped := make(chan bool)
		go func() {
			s.drop(mapPart("map.yaml", carMap), part{"log", "a.log", io.LimitReader(endless{}, 64<<20)})
			close(dropped)
		}()
		time.Sleep(time.Duration(random.Int64N(int64(100 * time.Millisecond))))
		s.kill()
		<-dropped
	}
	next("with a drop under way")
	for range 6 { // while it clears away
		s := serve(t, folder)
		for range 20 {
			if at, said := s.drop(mapPart("map.yaml", carMap), logPart("a.log", drive(0))); at == "" {
				t.Error(said)
			}
		}
		s.interrupt()
		time.Sleep(time.Duration(random.Int64N(int64(8 * time.Millisecond))))
		s.kill()
	}
	next("while it cleared away")
	if left := files(t, folder); !slices.Equal(left, owned) {
		t.Errorf("of the one that lives there is %q, before %q", left, owned)
	}
	if got := lives.episodes(at); got != 2 {
		t.Errorf("it shows %d episodes", got)
	}
	lives.end()
	if left := files(t, folder); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
}

// A program that is killed while it writes leaves the file that was there, or the new
// one, in whole, and the next run takes away what else it left.
func TestAKilledWriterLeavesTheOldFileOrTheNewOne(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	folder := t.TempDir()
	write(t, filepath.Join(folder, "map.yaml"), []byte(carMap))
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
	write(t, filepath.Join(folder, "map.yaml"), []byte(carMap))
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

// Servers that start at the same moment clear away nothing of each other.
func TestServersThatStartAtOnceLeaveEachOtherAlone(t *testing.T) {
	folder := t.TempDir()
	var starting []*process
	for range 8 {
		starting = append(starting, command(t, folder, "serve", "--quiet").begin())
	}
	var all []*server
	for _, p := range starting {
		all = append(all, addressed(p))
	}
	for n, s := range all {
		at, said := s.drop(mapPart("map.yaml", carMap), logPart("a.log", drive(n)))
		if at == "" || s.episodes(at) != n {
			t.Errorf("server %d: %q %s", n, at, said)
		}
	}
	for _, s := range all {
		s.end()
	}
	if left := files(t, folder); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
}
