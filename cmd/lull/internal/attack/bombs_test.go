//go:build attack && linux

package attack

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"github.com/ulikunitz/xz"

	"lull/cmd/lull/internal/sample/driven"
)

const (
	// bombTime and bombMemory bound what a bomb may take.
	bombTime   = 20 * time.Second
	bombMemory = 192 // MiB
	unpacked   = 64 << 20
)

// zeroes are 32 MiB of zeros, packed by bzip2, which Go only reads.
const zeroes = "QlpoOTFBWSZTWaIgopoBAQHAAMAAAAggADCAKRtoAgGiAQDi7kinChIURBRTQA=="

// packed is so many bytes of one text over and over, packed in many parts, each of
// which could stand alone.
func packed(t testing.TB, by, text string, size int) []byte {
	t.Helper()
	const part = 4 << 20
	var out bytes.Buffer
	var w io.WriteCloser
	var err error
	switch by {
	case "gzip":
		w, err = gzip.NewWriterLevel(&out, gzip.BestCompression)
	case "zstd":
		w, err = zstd.NewWriter(&out)
	case "xz":
		w, err = xz.NewWriter(&out)
	case "bzip2":
		once, err := base64.StdEncoding.DecodeString(zeroes)
		if err != nil || text != "\x00" {
			t.Fatal("bzip2 has zeros alone", err)
		}
		return bytes.Repeat(once, size>>25)
	}
	if err == nil {
		_, err = io.WriteString(w, strings.Repeat(text, part/len(text)))
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return bytes.Repeat(out.Bytes(), size/part)
}

// bomb is a file that takes more than it looks.
type bomb struct {
	name string
	text []byte
	says string // on the command line
}

func logBombs(t testing.TB) []bomb {
	frame := "(1.000000) can0 1A0#0000000000000000\n"
	var names, identifiers bytes.Buffer
	for n := range 100_000 {
		fmt.Fprintf(&names, "(%d.%06d) %x 1A0#00\n", driven.CarBegan+n/1000, n%1000, n)
		fmt.Fprintf(&identifiers, "(%d.%06d) can0 %08X#00\n", driven.CarBegan+n/1000, n%1000, n)
	}
	list := []bomb{
		{"empty lines.zst", packed(t, "zstd", "\n", unpacked/2), "holds no frame"},
		{"lines that are no frames.zst", packed(t, "zstd", "x\n", unpacked/2), "none of its 16777216 lines is a CAN frame"},
		{"frames of one moment.zst", packed(t, "zstd", frame, unpacked), ""},
		{"names of interfaces.log", names.Bytes(), "reaches past the end of its frame"},
		{"identifiers.log", identifiers.Bytes(), "the engine speed"},
		{"packed twice.gz", packed(t, "gzip", string(packed(t, "gzip", "\x00", unpacked)), 4<<20), "longer than 64 KiB"},
		{"a window of 2 GiB.zst", []byte("\x28\xB5\x2F\xFD\x00\xA8\x01\x00\x00"), "more than 64 MiB of memory"},
		{"a zip.log", []byte("PK\x03\x04" + strings.Repeat("\x00", 100)), "unpack it first"},
		{"a block of 4 GiB.pcapng", append([]byte("\x0a\x0d\x0d\x0a\xf0\xff\xff\xff\x4d\x3c\x2b\x1a"), make([]byte, 100)...), "damaged"},
		{"a packet of 4 GiB.pcap", append([]byte("\xd4\xc3\xb2\xa1\x02\x00\x04\x00\x00\x00\x00\x00\x00\x00\x00\x00\xff\xff\xff\xff\xe3\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\xff\xff\xff\xff\xff\xff\xff\xff"), make([]byte, 100)...), "damaged"},
		{"a line of 32 MiB.log", bytes.Repeat([]byte("(1.0) can0 "), 3<<20), "longer than 64 KiB"},
	}
	for _, by := range []string{"gzip", "zstd", "xz", "bzip2"} {
		list = append(list, bomb{"a line without end." + by, packed(t, by, "\x00", unpacked), "longer than 64 KiB"})
	}
	return list
}

// Logs that unpack hugely, have lines without end or promise what they do not hold are
// measured or refused with a word, in little memory and time.
func TestLogsThatSwellTakeLittleAndAreTold(t *testing.T) {
	folder := t.TempDir()
	write(t, filepath.Join(folder, "map.yaml"), []byte(driven.CarMap))
	for _, b := range logBombs(t) {
		write(t, filepath.Join(folder, b.name), b.text)
		for _, as := range []string{"episodes", "frames"} {
			p := command(t, folder, as, b.name)
			status := p.run(bombTime)
			p.tookLess(bombMemory)
			if text := p.err.String(); as == "episodes" && (status == 0) != (b.says == "") || status == 1 && !strings.Contains(text, b.says) {
				t.Errorf("lull %s %q: status %d, says %.300q, want %q", as, b.name, status, text, b.says)
			}
		}
	}
}

func mapBombs() []bomb {
	frames := "format: 1\nvehicle: x\nframes:\n"
	many := func(n int, format string) []byte {
		var b bytes.Buffer
		for i := range n {
			fmt.Fprintf(&b, format, i)
		}
		return b.Bytes()
	}
	var laughs strings.Builder
	laughs.WriteString("a0: &a0 [ha, ha, ha, ha, ha, ha, ha, ha, ha, ha]\n")
	for n := 1; n < 30; n++ {
		fmt.Fprintf(&laughs, "a%d: &a%d [%s]\n", n, n, strings.Repeat(fmt.Sprintf("*a%d, ", n-1), 10))
	}
	return []bomb{
		{"laughs", []byte(laughs.String() + "format: 1\nframes: *a29\n"), "has no key"},
		{"an alias of itself", []byte("format: 1\nframes: &a [*a, *a]\n"), ""},
		{"brackets", bytes.Repeat([]byte("["), 1<<20), "depth"},
		{"braces", bytes.Repeat([]byte("{a: "), 1<<18), "depth"},
		{"lists in lists", append([]byte(frames), bytes.Repeat([]byte("- "), 1<<19)...), "depth"},
		{"keys of keys", bytes.Repeat([]byte("? "), 1<<19), "depth"},
		{"anchors", append([]byte("format: 1\nframes:\n"), many(50_000, "  - &a%d 1\n")...), ""},
		{"documents", bytes.Repeat([]byte("---\n"), 1<<18), ""},
		{"a text without end", append([]byte("format: \""), bytes.Repeat([]byte("\\u0041"), 170_000)...), "not closed"},
		{"mistakes", append([]byte(frames), bytes.Repeat([]byte("- {q: 1}\n"), 90_000)...), "does not say how to find it"},
		{"keys", append([]byte("format: 1\n"), many(80_000, "k%d: 1\n")...), "has no key"},
		{"signals over each other", append([]byte(frames+"  - id: 1\n    signals:\n"), many(25_000, "      s%d: {start: 0, length: 1}\n")...), "belongs to"},
		{"frames", append([]byte(driven.CarMap), many(14_000, "  - {id: 1%07[1]d, extended: true, signals: {s%[1]d: {start: 0, length: 1}}}\n")...), ""},
		{"wide indents", many(1400, "%[1]*[1]d:\n"), ""},
	}
}

// Maps that call themselves, are deep, wide or full of mistakes are refused or read in
// little memory and time; so is one that is larger than any map.
func TestMapsThatSwellTakeLittleAndAreTold(t *testing.T) {
	folder := t.TempDir()
	for _, b := range append(mapBombs(), bomb{"a log in its place", bytes.Repeat([]byte("# map\n"), 11<<20), "larger than"}) {
		path := write(t, filepath.Join(folder, "map.yaml"), b.text)
		p := command(t, folder, "map", "check", path)
		status := p.run(bombTime)
		p.tookLess(bombMemory)
		if text := p.out.String() + p.err.String(); (status == 0) != (b.name == "frames") || !strings.Contains(text, b.says) {
			t.Errorf("%s: status %d, says %.300q, want %q", b.name, status, text, b.says)
		}
	}
}

// The same dropped on the page: it stays small, answers, and tells why.
func TestWhatSwellsOnThePageTakesLittleAndIsTold(t *testing.T) {
	s := serve(t, t.TempDir())
	lively := func(name string) {
		t.Helper()
		began := time.Now()
		if status, _, _ := s.get("/"); status != http.StatusOK || time.Since(began) > time.Second {
			t.Errorf("after %s: status %d after %v", name, status, time.Since(began))
		}
	}
	for _, b := range logBombs(t) {
		at, said := s.drop(mapPart("map.yaml", driven.CarMap), part{"log", b.name, bytes.NewReader(b.text)})
		if at != "" {
			_, _, said = s.get(at)
		}
		if !strings.Contains(said, b.says) {
			t.Errorf("%s: says %.300q, want %q", b.name, said, b.says)
		}
		lively(b.name)
	}
	log := drive(1)
	for _, b := range mapBombs() {
		began := time.Now()
		at, said := s.drop(part{"map", "map.yaml", bytes.NewReader(b.text)}, logPart("drive.log", log))
		if at == "" && said == "" {
			t.Errorf("%s: nothing is said", b.name)
		}
		if at != "" {
			if status, _, _ := s.get(at); status != http.StatusOK && status != http.StatusUnprocessableEntity {
				t.Errorf("%s: status %d", b.name, status)
			}
		}
		if took := time.Since(began); took > bombTime/2 {
			t.Errorf("%s: took %v", b.name, took)
		}
		lively(b.name)
	}
	// Forms that are no drop of a browser.
	for name, parts := range map[string][]part{
		"10,000 fields":    manyParts(10_000, "log", "a.log"),
		"10,000 maps":      manyParts(10_000, "map", "a.yaml"),
		"a field of 8 MiB": {{"with", "", io.LimitReader(endless{}, 8<<20)}},
		"a map of 8 MiB":   {{"map", "map.yaml", io.LimitReader(endless{}, 8<<20)}},
		"unknown fields":   manyParts(100, "x", "x"),
		"a long name":      {{strings.Repeat("x", 9<<20), "x", strings.NewReader("")}},
	} {
		if at, said := s.drop(parts...); at != "" || said == "" {
			t.Errorf("%s: shown at %q, says %q", name, at, said)
		}
		lively(name)
	}
	s.end()
	s.tookLess(bombMemory)
}

func manyParts(n int, field, name string) (list []part) {
	for range n {
		list = append(list, part{field, name, strings.NewReader("x")})
	}
	return list
}

// endless is a text without end.
type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = '#'
	}
	return len(p), nil
}
