package main

import (
	"cmp"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

type plan struct {
	megabytes, runs int
	folder          string
	large           bool
}

// run is what one process used.
type run struct {
	wall, cpu float64 // s
	memory    float64 // MiB, peak; 0 if the system does not tell
}

// measure builds lull, writes the logs and prints the table of figures.
func measure(p plan) error {
	folder, err := os.MkdirTemp(p.folder, "bench")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	lull := filepath.Join(folder, "lull")
	if out, err := exec.Command("go", "build", "-o", lull, "./cmd/lull").CombinedOutput(); err != nil {
		return fmt.Errorf("go build ./cmd/lull: %w\n%s", err, out)
	}
	self, err := os.Executable()
	if err != nil {
		return err
	}
	size := int64(p.megabytes) * 1_000_000
	log := filepath.Join(folder, "drive.log")
	b := bench{runs: p.runs, lull: lull, self: self}
	fmt.Printf("log of %d MB, medians of %d paired runs\n\n| what | ratio | lull | other |\n| --- | --- | --- | --- |\n", p.megabytes, p.runs)
	for _, kind := range []string{noisy, allMapped, townDrive} { // the last one is needed below
		if err := b.kind(log, size, kind); err != nil {
			return err
		}
	}
	for _, ending := range []string{".gz", ".zst"} {
		packed, err := pack(log, ending)
		if err != nil {
			return err
		}
		b.compare(ending+" log, time of bare unpacking (wall)", wall, b.episodes(packed, ""), b.other("-unpack", packed), false)
		os.Remove(packed)
	}
	captured, err := packCapture(log)
	if err != nil {
		return err
	}
	b.compare("the same drive as a pcapng capture, times the text log (wall)", wall, b.by(log+".yaml", captured, ""), b.episodes(log, ""), false)
	os.Remove(captured)
	mixed := filepath.Join(folder, "mixed.log")
	if _, _, err := b.write(mixed, size, twoBuses); err != nil {
		return err
	}
	b.compare("two mixed buses with 29-bit ids, faster than the reference composition (wall)", wall, b.other("-reference", mixed), b.episodes(mixed, ""), true)
	os.Remove(mixed)
	if p.large && b.err == nil {
		b.scaling(folder, log, size)
	}
	if b.err == nil {
		b.reports(folder)
	}
	return b.err
}

// kind measures a log of one kind, which it writes.
func (b *bench) kind(log string, size int64, kind string) error {
	frames, mapped, err := b.write(log, size, kind)
	if err != nil {
		return err
	}
	head := fmt.Sprintf("%s, %.0f in 100 frames mapped: ", kind, 100*float64(mapped)/float64(frames))
	b.compare(head+"faster than the reference composition (wall)", wall, b.other("-reference", log), b.episodes(log, ""), true)
	b.compare(head+"time of a newline count (wall)", wall, b.episodes(log, ""), b.other("-newlines", log), false)
	b.compare(head+"one worker, faster than the reference composition (cpu)", cpu, b.other("-reference", log), b.episodes(log, "1"), true)
	// What is left of the time when nothing is mapped is the analysis.
	nothing := log + ".nothing.yaml"
	if err := os.WriteFile(nothing, []byte(nothingMapped), 0o644); err != nil {
		return err
	}
	var each []float64
	for range b.runs + 1 {
		reading, _ := timed(b.by(nothing, log, "1")) // it ends with what it did not find
		each = append(each, (cpu(b.once(b.episodes(log, "1")))-cpu(reading))/float64(mapped)*1e9)
	}
	fmt.Printf("| %sone worker, CPU of the analysis for each mapped frame | | %.0f ns | |\n", head, median(each[1:]))
	return b.err
}

// nothingMapped is a map of which a log has no frame.
const nothingMapped = "format: 1\nframes:\n  - id: 0x7FF\n    signals:\n      engine_speed: {start: 0, length: 16, unit: rpm, role: engine_speed}\n"

type bench struct {
	runs       int
	lull, self string
	err        error
}

// episodes measures a log by the map beside it.
func (b *bench) episodes(log, workers string) *exec.Cmd {
	beside := log
	for _, ending := range []string{".gz", ".zst"} {
		beside = strings.TrimSuffix(beside, ending)
	}
	return b.by(beside+".yaml", log, workers)
}

func (b *bench) by(file, log, workers string) *exec.Cmd {
	c := exec.Command(b.lull, "episodes", log, "--quiet", "--map", file)
	if workers != "" {
		c.Env = append(os.Environ(), "GOMAXPROCS="+workers)
	}
	return c
}

// write writes a log in a process of its own, since the peak memory of a process includes
// what its parent used when it was started. It returns how many frames it has, and how many
// of them its map names.
func (b *bench) write(path string, size int64, kind string) (frames, mapped int64, err error) {
	out, err := exec.Command(b.self, "-write", path, strconv.FormatInt(size, 10), kind).CombinedOutput()
	if err == nil {
		_, err = fmt.Sscan(string(out), &frames, &mapped)
	}
	if err != nil {
		return 0, 0, fmt.Errorf("%s: %w\n%s", path, err, out)
	}
	return frames, mapped, nil
}

func (b *bench) other(what, log string) *exec.Cmd { return exec.Command(b.self, what, log) }

func wall(r run) float64 { return r.wall }
func cpu(r run) float64  { return r.cpu }

// compare runs two commands in turn and prints the median of the ratios of a
// figure, first by second. lullSecond tells which of them is lull.
func (b *bench) compare(name string, of func(run) float64, first, second *exec.Cmd, lullSecond bool) {
	var ratios, firsts, seconds []float64
	for range b.runs + 1 {
		a, z := of(b.once(first)), of(b.once(second))
		ratios, firsts, seconds = append(ratios, a/z), append(firsts, a), append(seconds, z)
	}
	// The first pair warms the page cache.
	ratio, one, two := median(ratios[1:]), median(firsts[1:]), median(seconds[1:])
	if lullSecond {
		one, two = two, one
	}
	fmt.Printf("| %s | %.2f | %.3f s | %.3f s |\n", name, ratio, one, two)
}

// once runs a copy of a command to its end, which must be a good one.
func (b *bench) once(c *exec.Cmd) run {
	r, err := timed(c)
	b.err = cmp.Or(b.err, err)
	return r
}

// timed runs a copy of a command to its end, and says with what error it ended.
func timed(c *exec.Cmd) (r run, err error) {
	again := exec.Command(c.Path, c.Args[1:]...)
	again.Env = c.Env
	began := time.Now()
	out, err := again.CombinedOutput()
	if err != nil {
		err = fmt.Errorf("%v: %w\n%s", again.Args, err, out)
	}
	r.wall = time.Since(began).Seconds()
	r.cpu = (again.ProcessState.UserTime() + again.ProcessState.SystemTime()).Seconds()
	r.memory = peak(again.ProcessState)
	return r, err
}

// scaling measures time and memory on a tenth, once, five and ten times the
// size.
func (b *bench) scaling(folder, log string, size int64) {
	fmt.Printf("\n| log | peak memory | time (wall) | time per MB against the first |\n| --- | --- | --- | --- |\n")
	other := filepath.Join(folder, "other.log")
	first := 0.0
	for _, s := range []int64{size / 10, size, 5 * size, 10 * size} {
		path := log
		if s != size {
			path = other
			if _, _, b.err = b.write(other, s, townDrive); b.err != nil {
				return
			}
		}
		var walls, peaks []float64
		for range b.runs + 1 {
			r := b.once(b.episodes(path, ""))
			walls, peaks = append(walls, r.wall), append(peaks, r.memory)
		}
		perMB := median(walls[1:]) / float64(s) * 1e6
		if first == 0 {
			first = perMB
		}
		fmt.Printf("| %d MB | %.1f MiB | %.3f s | %.2f |\n", s/1_000_000, slices.Max(peaks), median(walls[1:]), perMB/first)
	}
}

// hour is about the size of an hour's log: the town drive 24 times.
const hour = 324_000_000

// reports measures time, memory and size of the report of an hour.
func (b *bench) reports(folder string) {
	log := filepath.Join(folder, "hour.log")
	if _, _, b.err = b.write(log, hour, townDrive); b.err != nil {
		return
	}
	fmt.Printf("\n| report of an hour (%d MB) | time (wall) | peak memory | size |\n| --- | --- | --- | --- |\n", hour/1_000_000)
	for _, ending := range []string{".html", ".pdf"} {
		to := filepath.Join(folder, "report"+ending)
		c := exec.Command(b.lull, "report", log, "--quiet", "--map", log+".yaml", "-o", to)
		var walls, peaks []float64
		for range b.runs + 1 {
			r := b.once(c)
			walls, peaks = append(walls, r.wall), append(peaks, r.memory)
		}
		info, err := os.Stat(to)
		if err != nil {
			b.err = cmp.Or(b.err, err)
			return
		}
		fmt.Printf("| %s | %.2f s | %.0f MiB | %.1f MB |\n", ending, median(walls[1:]), slices.Max(peaks), float64(info.Size())/1e6)
	}
}

func median(values []float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	n := len(sorted)
	if n%2 == 1 {
		return sorted[n/2]
	}
	return (sorted[n/2-1] + sorted[n/2]) / 2
}
