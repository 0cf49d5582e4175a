package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"lull/analyze/scenario"
	"lull/analyze/scenario/foreign"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/sigmap"
)

// The kinds of logs, by the car and by what its map names.
const (
	townDrive = "town"  // the demonstration's town drive: the map names one frame in six
	twoBuses  = "mixed" // the same, and again on a second bus with 29-bit identifiers
	noisy     = "noisy" // a made-up car as on a real bus, in whose measured fields everything is noisy: two frames in five are named
	allMapped = "all"   // the same, with a map that names every frame
)

// writeLog writes the drive of a kind again and again, its times moved on, until the
// log has the size, and the map that it is read by beside it. It prints how many frames the
// log has and how many of them the map names.
func writeLog(path string, size int64, kind string) error {
	frames, text, err := drive(kind)
	if err != nil {
		return err
	}
	if err := os.WriteFile(path+".yaml", text, 0o644); err != nil {
		return err
	}
	m, err := sigmap.Parse(path+".yaml", text)
	if err != nil {
		return err
	}
	decoder, named := decode.NewDecoder(m), make([]bool, len(frames))
	for i := range frames {
		decoder.Decode(&frames[i])
		named[i] = len(decoder.Matched()) > 0
	}
	all, mapped := 0, 0
	defer func() { fmt.Println(all, mapped) }()
	span := frames[len(frames)-1].Time - frames[0].Time + 10_000_000
	return create(path, func(w io.Writer) error {
		var line []byte
		written := int64(0)
		for round := int64(0); written < size; round++ {
			for i := range frames {
				f := &frames[i]
				f.Time += span * min(round, 1)
				if all++; named[i] {
					mapped++
				}
				line = candump.AppendFrame(line[:0], f)
				written += int64(len(line))
				if _, err := w.Write(line); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// drive returns the frames of a kind and their map.
func drive(kind string) (frames []decode.Frame, text []byte, err error) {
	if kind == noisy || kind == allMapped {
		u := foreign.NewUnknown(0, foreign.Miles)
		for f := range u.Play {
			frames = append(frames, *f)
		}
		if text = u.Map; kind == allMapped {
			text, err = nameAll(text, frames)
		}
		return frames, text, err
	}
	town, err := town()
	if err != nil {
		return nil, nil, err
	}
	for f := range town.Frames {
		frames = append(frames, *f)
		if kind == twoBuses {
			g := *f
			g.Bus = "can1"
			if g.Flags&decode.Extended == 0 {
				g.ID, g.Flags = 0x18FE0000|g.ID, g.Flags|decode.Extended
			}
			g.Time += 20_000
			frames = append(frames, g)
		}
	}
	return frames, scenario.Map("map.yaml"), nil
}

// nameAll adds to a map each frame that it does not name, with two numbers that a
// comparison reads.
func nameAll(text []byte, frames []decode.Frame) ([]byte, error) {
	m, err := sigmap.Parse("map.yaml", text)
	if err != nil {
		return nil, err
	}
	decoder := decode.NewDecoder(m)
	type name struct {
		id       uint32
		extended bool
		bus      string
	}
	named := map[name]bool{}
	var entries, compared strings.Builder
	for i := range frames {
		f := &frames[i]
		n := name{f.ID, f.Flags.Has(decode.Extended), f.Bus}
		decoder.Decode(f)
		if len(decoder.Matched()) > 0 || named[n] || f.Len < 4 {
			continue
		}
		named[n] = true
		k := len(named)
		fmt.Fprintf(&entries, "  - id: 0x%X\n    extended: %t\n    bus: %s\n    signals:\n      first_%d: {start: 0, length: 16}\n      second_%d: {start: 16, length: 12}\n",
			n.id, n.extended, n.bus, k, k)
		fmt.Fprintf(&compared, "%sfirst_%d, second_%d", strings.Repeat(", ", min(k-1, 1)), k, k)
	}
	before, after, _ := strings.Cut(string(text), "frames:\n")
	return []byte(before + "conditions: [" + compared.String() + "]\nframes:\n" + entries.String() + after), nil
}

func town() (scenario.Drive, error) {
	for _, d := range scenario.Drives() {
		if d.Name == "town.log" {
			return d, nil
		}
	}
	return scenario.Drive{}, fmt.Errorf("the demonstration has no town.log")
}

func create(path string, write func(io.Writer) error) error {
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(file, 1<<20)
	if err := write(w); err != nil {
		return err
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return file.Close()
}

// pack writes a packed copy of a log beside it.
func pack(path, ending string) (string, error) {
	in, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer in.Close()
	packed := path + ending
	return packed, create(packed, func(w io.Writer) error {
		var z io.WriteCloser
		if ending == ".gz" {
			z = gzip.NewWriter(w)
		} else if z, err = zstd.NewWriter(w); err != nil {
			return err
		}
		if _, err := io.Copy(z, in); err != nil {
			return err
		}
		return z.Close()
	})
}
