package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"go.einride.tech/can"
	"go.einride.tech/can/pkg/descriptor"

	"lull/decode"
	"lull/decode/sigmap"
)

// engineSpeed is the signal that the reference decodes: that of the map beside the log.
func engineSpeed(path string) (id uint32, extended bool, signal descriptor.Signal, err error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return 0, false, signal, err
	}
	m, err := sigmap.Parse(path, text)
	if err != nil {
		return 0, false, signal, err
	}
	s := m.RoleSignal(decode.EngineSpeed)
	e := &m.Entries[s.Entry]
	return e.ID, e.Extended, descriptor.Signal{Name: s.Name, Start: uint8(s.Start), Length: uint8(s.Length), IsBigEndian: s.BigEndian,
		IsSigned: s.Signed, Scale: s.Scale.Factor, Offset: s.Scale.Offset}, nil
}

// reference reads a log the way one would without lull: a line scanner, split at
// spaces, a parsed float, the CAN library's own decoding of frame and signal.
func reference(path string) error {
	id, extended, speed, err := engineSpeed(path + ".yaml")
	if err != nil {
		return err
	}
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	lines := bufio.NewScanner(file)
	frames, samples := 0, 0
	highest, last := 0.0, 0.0
	for lines.Scan() {
		fields := strings.Fields(lines.Text())
		if len(fields) < 3 {
			continue
		}
		if last, err = strconv.ParseFloat(strings.Trim(fields[0], "()"), 64); err != nil {
			continue
		}
		var frame can.Frame
		if frame.UnmarshalString(fields[2]) != nil {
			continue
		}
		frames++
		if frame.ID == id && frame.IsExtended == extended {
			samples++
			highest = max(highest, speed.UnmarshalPhysical(frame.Data))
		}
	}
	fmt.Println(frames, samples, highest, last)
	return lines.Err()
}

// newlines is the floor: it reads the file in pieces and counts lines.
func newlines(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	piece := make([]byte, 1<<20)
	count := 0
	for {
		n, err := file.Read(piece)
		count += bytes.Count(piece[:n], []byte{'\n'})
		if errors.Is(err, io.EOF) {
			fmt.Println(count)
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// unpack only unpacks, with the library and the options that lull uses.
func unpack(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	in := bufio.NewReaderSize(file, 64<<10)
	var unpacked io.Reader
	if strings.HasSuffix(path, ".gz") {
		unpacked, err = gzip.NewReader(in)
	} else {
		var z *zstd.Decoder
		z, err = zstd.NewReader(in, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxWindow(128<<20))
		unpacked = z
	}
	if err != nil {
		return err
	}
	n, err := io.Copy(io.Discard, unpacked)
	fmt.Println(n)
	return err
}
