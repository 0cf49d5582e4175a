package onelog_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"reflect"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/analyze/onelog"
	"lull/decode"
	"lull/decode/candump"
	"lull/pkg/oracle"
)

// mutations is how many damaged logs the test below makes; LULL_MUTATIONS may ask
// for another number.
func mutations(t *testing.T) int {
	n := 20_000
	switch text := os.Getenv("LULL_MUTATIONS"); {
	case text != "":
		var err error
		if n, err = strconv.Atoi(text); err != nil {
			t.Fatalf("LULL_MUTATIONS: %v", err)
		}
	case testing.Short() || oracle.RaceDetector:
		n = 1000
	}
	return n
}

// longLogs: one in so many is long enough to be read in several blocks.
const longLogs = 400

// mutationTally is what the damaged logs came to.
type mutationTally struct {
	Sound, Rejected, Accepted, Episodes, Unjudged int64
}

// Whatever happens to a log, every line of it is counted once, the lines that
// nothing happened to are read as they were written, both readers tell the same,
// and so does the analysis, without panic, without end and without ever more
// memory.
func TestMutatedLogsAreCountedInFullAndReadAlikeByBothReaders(t *testing.T) {
	total, start, goroutines := mutations(t), time.Now(), runtime.NumGoroutine()
	drives := soundDrives(t)
	debug.SetTraceback("all") // a log that never ends shows where
	// Readers' buffers are most of what is allocated; collecting them one by one
	// would be most of the time.
	defer debug.SetGCPercent(debug.SetGCPercent(400))
	shards := runtime.GOMAXPROCS(0)
	tallies := make([]mutationTally, shards)
	t.Run("logs", func(t *testing.T) {
		for shard := range shards {
			t.Run(fmt.Sprint(shard), func(t *testing.T) {
				t.Parallel()
				for n := shard; n < total; n += shards {
					watch := time.AfterFunc(time.Minute, func() { panic(fmt.Sprintf("damaged log %d is not read in a minute", n)) })
					checkMutation(t, drives, n, &tallies[shard])
					watch.Stop()
				}
			})
		}
	})
	var sum mutationTally
	for _, tally := range tallies {
		sum.Sound, sum.Rejected, sum.Accepted = sum.Sound+tally.Sound, sum.Rejected+tally.Rejected, sum.Accepted+tally.Accepted
		sum.Episodes, sum.Unjudged = sum.Episodes+tally.Episodes, sum.Unjudged+tally.Unjudged
	}
	if n := int64(total); sum.Sound < 20*n || sum.Rejected < n/2 || sum.Episodes < n/10 || sum.Unjudged > n/20 {
		t.Errorf("%d damaged logs prove little: %+v", total, sum)
	}
	runtime.GC()
	runtime.GC() // what pools and cleanups held
	var now runtime.MemStats
	runtime.ReadMemStats(&now)
	if now.HeapAlloc > 64<<20 || runtime.NumGoroutine() > goroutines+2 {
		t.Errorf("after all logs %d MiB are in use by %d goroutines, of %d before", now.HeapAlloc>>20, runtime.NumGoroutine(), goroutines)
	}
	t.Logf("%d logs in %v: %+v", total, time.Since(start).Round(time.Millisecond), sum)
}

// Logs of the same kind, one by one: what a log takes depends on the buffers and on
// its length, not on what is wrong with it.
func TestMutatedLogsTakeLittleMemory(t *testing.T) {
	drives := soundDrives(t)
	allocated := func() uint64 {
		sample := []metrics.Sample{{Name: "/gc/heap/allocs:bytes"}}
		metrics.Read(sample)
		return sample[0].Value.Uint64()
	}
	var tally mutationTally
	most := uint64(0)
	for n := range 1000 {
		before := allocated()
		checkMutation(t, drives, n, &tally)
		if n%longLogs > 0 {
			most = max(most, allocated()-before)
		}
	}
	if most > 16<<20 {
		t.Errorf("one log of some KiB took %d KiB", most>>10)
	}
	t.Logf("at most %d KiB for one log", most>>10)
}

// head is what makes a small log go the fast way, which begins with the second
// block: a sound line, then remarks that fill the first block or leave some of it.
func head(rng *rand.Rand, like *decode.Frame) []logLine {
	f := decode.Frame{Time: epoch, Bus: "can0", ID: 0x7FF}
	if like != nil {
		f.Time = like.Time
	}
	list := []logLine{lineOf(f)}
	for left := 128<<10 - rng.IntN(10_000); left > 0; left -= 40_000 {
		list = append(list, logLine{text: []byte("#" + longRemark[:min(left, 40_000)] + "\n")})
	}
	return list
}

var longRemark = strings.Repeat("x", 40_000)

// checkMutation makes the damaged log of that number, always the same, and checks it.
func checkMutation(t *testing.T, drives []soundDrive, n int, tally *mutationTally) {
	rng := rand.New(rand.NewPCG(20, uint64(n)))
	d := &drives[rng.IntN(len(drives))]
	frames := 10 + rng.IntN(190)
	if n%longLogs == 0 {
		frames = 4000 + rng.IntN(8000) // more than one block
	}
	list := soundLog(rng, d, frames)
	damage := 1
	if frames > 1000 {
		damage = 10
	}
	for range damage {
		list = damageLog(rng, list, func() []logLine { return soundLog(rng, &drives[rng.IntN(len(drives))], 10+rng.IntN(50)) })
	}
	if n%3 > 0 {
		list = append(head(rng, list[0].frame), list...)
	}
	var log []byte
	var sound []decode.Frame
	spoilt, lines := 0, int64(1)
	for _, l := range list {
		whole := len(log) == 0 || log[len(log)-1] == '\n'
		if l.frame != nil && whole {
			f := *l.frame
			f.Line = lines
			sound = append(sound, f)
		}
		if l.damaged || !whole {
			spoilt += 1 + bytes.Count(l.text, []byte{'\n'})
		}
		log = append(log, l.text...)
		lines += int64(bytes.Count(l.text, []byte{'\n'}))
	}
	if len(log) == 0 || log[len(log)-1] == '\n' {
		lines--
	}

	fail := func(format string, arguments ...any) {
		t.Helper()
		t.Fatalf("damaged log %d: %s\n%.3000q", n, fmt.Sprintf(format, arguments...), bytes.ReplaceAll(log, []byte(longRemark), nil))
	}
	one := onelog.NewRun(d.m)
	one.PushAll()
	r := candump.NewReader(bytes.NewReader(log), candump.Options{})
	given, next := int64(0), 0
	for r.Scan() {
		f := r.Frame()
		given++
		one.Push(f)
		// Frames come in the order of lines.
		if next < len(sound) && sound[next].Line == f.Line {
			if sound[next] != *f {
				fail("line %d reads %s", f.Line, cmp.Diff(&sound[next], f))
			}
			next++
		}
	}
	info := r.Info()
	if r.Err() != nil || info.Accepted+info.Rejected+info.Blank+info.Comments+info.Remarked != info.Lines ||
		info.Lines != lines || info.Bytes != int64(len(log)) || info.Accepted != given {
		fail("error %v, %d frames given, %d lines, %d bytes, counted %+v", r.Err(), given, lines, len(log), info)
	}
	// Where as many lines are spoilt as are sound it is open which stamps the log
	// is read by.
	if len(sound) <= spoilt {
		tally.Unjudged++
	} else if next < len(sound) {
		fail("line %d is sound and %d sound lines were read of %d; counted %+v", sound[next].Line, next, len(sound), info)
	}

	want := one.Finish(info)
	run := onelog.NewRun(d.m)
	b := candump.NewBlockReader(bytes.NewReader(log), candump.Options{}, decode.NewFilter(d.m), 1+rng.IntN(3))
	for b.Scan() {
		if f := b.Frame(); f != nil {
			run.Push(f)
		} else {
			run.Pass(b.Passed())
		}
	}
	if infoOfBlocks := b.Info(); !reflect.DeepEqual(info, infoOfBlocks) || b.Err() != nil {
		fail("error %v, the readers count (-Reader +BlockReader)\n%s", b.Err(), cmp.Diff(info, infoOfBlocks))
	}
	if got := run.Finish(b.Info()); !reflect.DeepEqual(want, got) {
		fail("the results are (-Reader +BlockReader)\n%s", cmp.Diff(want, got))
	}
	if n%16 == 0 {
		checkResult(t, d.m, want)
	}
	tally.Sound += int64(len(sound))
	tally.Rejected += info.Rejected
	tally.Accepted += info.Accepted
	tally.Episodes += int64(len(want.Episodes))
}
