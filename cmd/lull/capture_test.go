package main

import (
	"bytes"
	"encoding/binary"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/gopacket/gopacket"
	"github.com/gopacket/gopacket/layers"
	"github.com/gopacket/gopacket/pcapgo"

	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/candump"
)

// captured rewrites a text log as a pcapng capture, every interface by its name.
func captured(t *testing.T, log []byte, link layers.LinkType) []byte {
	t.Helper()
	var out bytes.Buffer
	var w *pcapgo.NgWriter
	numbers := make(map[string]int)
	r := candump.NewReader(bytes.NewReader(log), candump.Options{})
	for r.Scan() {
		f := r.Frame()
		number, known := numbers[f.Bus]
		if !known {
			face := pcapgo.NgInterface{Name: f.Bus, LinkType: link, TimestampResolution: 9}
			var err error
			if w == nil {
				w, err = pcapgo.NewNgWriterInterface(&out, face, pcapgo.NgWriterOptions{})
			} else {
				number, err = w.AddInterface(face)
			}
			if err != nil {
				t.Fatal(err)
			}
			numbers[f.Bus] = number
		}
		record := make([]byte, 16)
		id := f.ID
		for flag, bit := range map[decode.Flags]uint32{decode.Extended: 1 << 31, decode.Remote: 1 << 30, decode.Error: 1 << 29} {
			if f.Flags.Has(flag) {
				id |= bit
			}
		}
		binary.BigEndian.PutUint32(record, id)
		record[4] = f.Len
		copy(record[8:], f.Payload())
		about := gopacket.CaptureInfo{Timestamp: time.Unix(0, f.Time), Length: 16, CaptureLength: 16, InterfaceIndex: number}
		if err := w.WritePacket(about, record); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestACaptureGivesTheEpisodesOfTheLogItHolds(t *testing.T) {
	folder := t.TempDir()
	mapPath := filepath.Join(folder, "map.yaml")
	file := func(name string, data []byte) string {
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, data, 0o666); err != nil {
			t.Fatal(err)
		}
		return path
	}
	var log bytes.Buffer
	drive := scenario.Drives()[0]
	if err := drive.WriteLog(&log); err != nil {
		t.Fatal(err)
	}
	file("map.yaml", scenario.Map(drive.Map))
	ask := func(in io.Reader, path string) (status int, out, said string) {
		var o, e bytes.Buffer
		status = run([]string{"episodes", path, "--map", mapPath, "--format", "csv"}, &console{in: in, out: &o, err: &e, width: 80})
		// The first column is the log's name.
		var rows []string
		for _, row := range strings.SplitAfter(o.String(), "\n") {
			_, rest, _ := strings.Cut(row, ",")
			rows = append(rows, rest)
		}
		return status, strings.Join(rows, ""), e.String()
	}
	_, want, _ := ask(nil, file("drive.log", log.Bytes()))
	capture := captured(t, log.Bytes(), 227)
	if status, got, said := ask(nil, file("drive.pcapng", capture)); status != statusDone || got != want || strings.Count(got, "\n") < 3 || said != "" {
		t.Errorf("status %d, said %q; got\n%s\nwant\n%s", status, said, got, want)
	}
	if status, got, said := ask(bytes.NewReader(capture), "-"); status != statusDone || got != want || said != "" {
		t.Errorf("standard input: status %d, said %q; got\n%s\nwant\n%s", status, said, got, want)
	}
	cooked := file("cooked.pcapng", captured(t, log.Bytes(), 113))
	const advice = `cooked.pcapng: a Linux cooked capture (link type 113), which is what capturing on "any" gives; capture the CAN interface itself, for instance: dumpcap -i can0 -w drive.pcapng` + "\n"
	if status, _, said := ask(nil, cooked); status != statusFailed || said != "lull: "+advice {
		t.Errorf("cooked: status %d, said %q", status, said)
	}
}
