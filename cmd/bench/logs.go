package main

import (
	"bufio"
	"fmt"
	"io"
	"os"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"

	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/candump"
)

// writeLog writes the town drive again and again, its times moved on, until the
// log has the size. mixed doubles it onto a second bus with 29-bit
// identifiers.
func writeLog(path string, size int64, mixed bool) error {
	drive, err := town()
	if err != nil {
		return err
	}
	var frames []decode.Frame
	for f := range drive.Frames {
		frames = append(frames, *f)
		if mixed {
			g := *f
			g.Bus = "can1"
			if g.Flags&decode.Extended == 0 {
				g.ID, g.Flags = 0x18FE0000|g.ID, g.Flags|decode.Extended
			}
			g.Time += 20_000
			frames = append(frames, g)
		}
	}
	span := frames[len(frames)-1].Time - frames[0].Time + 10_000_000
	return create(path, func(w io.Writer) error {
		var line []byte
		written := int64(0)
		for round := int64(0); written < size; round++ {
			for i := range frames {
				f := &frames[i]
				f.Time += span * min(round, 1)
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
