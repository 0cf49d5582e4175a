//go:build attack && linux

package attack

import (
	"encoding/binary"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"lull/analyze/scenario"
	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/decode/live"
)

// streamMagic is what a stream begins with; see decode/live/stream.go.
const streamMagic = "lull 1\r\n"

// floods plays frames as fast as they are read; next fills in the n-th.
func floods(next func(n int, f *decode.Frame)) func(net.Conn) {
	return plays(func(w *live.Writer) error {
		for n := 0; ; n++ {
			f := decode.Frame{Bus: "can0", ID: 0x1A0, Len: 8, Time: driven.CarBegan*1e9 + int64(n)*1e6, Data: [64]byte{2: 0x80, 3: 0x0C}}
			next(n, &f)
			if err := w.Frame(&f); err != nil {
				return err
			}
		}
	})
}

// town is a part of the demonstration's drive in which the engine is stopped twice.
var town = sync.OnceValue(func() (list []decode.Frame) {
	for f := range scenarioDrive().Frames {
		if list = append(list, *f); len(list) == 100_000 {
			break
		}
	}
	return list
})

func scenarioDrive() scenario.Drive {
	all := scenario.Drives()
	return all[slices.IndexFunc(all, func(d scenario.Drive) bool { return d.Name == "town.log" })]
}

// tampers plays that drive again and again with other times.
func tampers(time func(n int, now int64) int64) func(net.Conn) {
	return floods(func(n int, f *decode.Frame) {
		*f = town()[n%len(town())]
		f.Time = time(n, f.Time)
	})
}

// sends sends the same bytes, once or without end.
func sends(text string, again bool) func(net.Conn) {
	return func(c net.Conn) {
		for {
			if _, err := io.WriteString(c, text); err != nil || !again {
				break
			}
		}
		_, _ = io.Copy(io.Discard, c) // until the recorder leaves
	}
}

// breaksOff sends bytes and closes the connection.
func breaksOff(text string) func(net.Conn) {
	return func(c net.Conn) { _, _ = io.WriteString(c, text) }
}

const (
	ends   = 1 + iota // by itself, as no waiting helps
	onPage            // is shown on the page, too
)

var hostileStreams = []struct {
	name string
	feed func(net.Conn)
	is   int // one of the following, or none
}{
	{"another protocol", sends("HTTP/1.1 200 OK\r\n\r\n", true), ends},
	{"a text log without an end of line", sends(strings.Repeat("(1.0) can0 ", 1000), true), ends},
	{"bytes of chance", noise(""), ends},
	{"bytes of chance in a stream", noise(streamMagic), ends},
	{"nothing at all", sends("", false), 0},
	{"half a frame", sends(streamMagic+"F\x04\x00\x00", false), onPage},
	{"a frame of the longest name, cut off", breaksOff(streamMagic + "F\xff" + strings.Repeat("\x00", 200)), 0},
	{"gone at once, again and again", breaksOff(""), 0},
	{"stamps that run back by milliseconds", tampers(func(n int, now int64) int64 { return now - int64(n%100)*2e6 }), 0},
	{"stamps that run back by half a second", tampers(func(n int, now int64) int64 { return now - int64(n&1)*5e8 }), onPage},
	{"stamps that run back by more and more", tampers(func(n int, now int64) int64 { return now - int64(n&1)*int64(n)*1e6 }), 0},
	{"stamps that run back all the time", tampers(func(n int, now int64) int64 { return driven.CarBegan*1e9 - int64(n)*1e6 }), 0},
	{"stamps of no time and of the last", tampers(func(n int, now int64) int64 { return []int64{0, 1<<63 - 1, now, -1 << 63}[n&3] }), onPage},
	{"an hour between all frames", tampers(func(n int, now int64) int64 { return int64(n%1_000_000) * 3600e9 }), 0},
	{"names of interfaces without end", floods(func(n int, f *decode.Frame) { f.Bus = fmt.Sprintf("%x", n%2_000_000) }), 0},
	{"names of interfaces that act", floods(func(n int, f *decode.Frame) { f.Bus = fmt.Sprintf("\x1b[2J\x1b]0;owned\x07\u202e<script>%d", n) }), onPage},
	{"identifiers without end", floods(func(n int, f *decode.Frame) { f.ID, f.Flags = uint32(n)&0x1FFFFFFF, decode.Extended }), 0},
	{"error frames alone", floods(func(n int, f *decode.Frame) { f.ID, f.Flags = uint32(n)&0x1FF, decode.Error }), 0},
	{"an engine that stops all the time", floods(func(n int, f *decode.Frame) {
		f.Time = driven.CarBegan*1e9 + int64(n)*20e6
		if n/20%2 == 1 {
			f.Data = [64]byte{0: 8} // told to stop, and at rest
		}
	}), onPage},
	{"an engine that stops in the same second again and again", floods(func(n int, f *decode.Frame) {
		f.Time = driven.CarBegan*1e9 + int64(n%1000)*1e6
		if n/20%2 == 1 {
			f.Data = [64]byte{0: 8}
		}
	}), 0},
	{"values of chance", floods(func(n int, f *decode.Frame) {
		x := uint64(n) * 0x9E3779B97F4A7C15
		binary.LittleEndian.PutUint64(f.Data[:], x^x>>29)
	}), 0},
}

// noise sends a beginning, then random bytes.
func noise(begins string) func(net.Conn) {
	return func(c net.Conn) {
		random := rand.NewChaCha8([32]byte{7})
		buffer := make([]byte, 64<<10)
		for _, err := io.WriteString(c, begins); err == nil; _, err = c.Write(buffer) {
			_, _ = random.Read(buffer) // never fails
		}
	}
}

// Whatever comes from a stream, the recorder lives until it is told to end, and ends
// then within two seconds, in little memory, or says why it ended; what it shows has no
// control character.
func TestARecorderLivesThroughAnyStreamAndEndsWhenTold(t *testing.T) {
	for _, stream := range hostileStreams {
		t.Run(stream.name, func(t *testing.T) {
			folder := t.TempDir()
			write(t, filepath.Join(folder, "map.yaml"), scenario.Map(scenarioDrive().Map))
			p := command(t, folder, "record", car(t, stream.feed), "-o", "drive.log").begin()
			survives(t, p, stream.is == ends)
			if status := p.ProcessState.ExitCode(); status != 0 && status != 1 || status == 1 && p.err.String() == "" {
				t.Errorf("status %d, says %.1000q", status, p.err.String())
			}
			for _, text := range []string{p.out.String(), p.err.String()} {
				if err := shown(text); err != nil || strings.Contains(text, "goroutine ") {
					t.Errorf("it says %v, %.2000s", err, text)
				}
			}
			if log, _ := filepath.Glob(filepath.Join(folder, "*")); len(log) > 2 {
				t.Errorf("there are %q", log)
			}
		})
	}
}

const (
	hostileFor    = 500 * time.Millisecond
	hostileMemory = 768 // MiB: what waits for the disk, for the analysis, and the news
)

// survives lets a process go on for a while and ends it.
func survives(t *testing.T, p *process, ends bool) {
	t.Helper()
	if ends {
		if p.status(5*time.Second) != 1 {
			t.Errorf("it says %q", p.err.String())
		}
	} else {
		time.Sleep(hostileFor)
		began := time.Now()
		if err := p.Process.Signal(syscall.SIGINT); err != nil && !strings.Contains(p.err.String(), "the disk is too slow; ") {
			t.Errorf("it has ended by itself, which it may only where it cannot write as much: %s", p.err.String())
		}
		p.status(20 * time.Second)
		if took := time.Since(began); took > 2*time.Second {
			t.Errorf("ended %v after it was told to", took)
		}
	}
	p.tookLess(hostileMemory)
}

// So does the page of a recording, which its owner can open all the while.
func TestThePageOfARecordingLivesThroughAnyStream(t *testing.T) {
	for _, stream := range hostileStreams {
		if stream.is != onPage {
			continue
		}
		t.Run(stream.name, func(t *testing.T) {
			folder := t.TempDir()
			path := write(t, filepath.Join(folder, "map.yaml"), scenario.Map(scenarioDrive().Map))
			s := serve(t, folder, "--interface", car(t, stream.feed), "-o", filepath.Join(folder, "drive.log"), "--map", path)
			time.Sleep(hostileFor)
			began := time.Now()
			status, _, text := s.get("/live")
			if took := time.Since(began); status != http.StatusOK || took > time.Second {
				t.Errorf("status %d after %v", status, took)
			}
			if err := shown(text); err != nil || strings.Contains(text, "<script>0") {
				t.Errorf("the page shows %v", err)
			}
			survives(t, s.process, false)
		})
	}
}
