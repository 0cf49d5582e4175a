//go:build linux || darwin

package main

import (
	"archive/zip"
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"lull/analyze/scenario"
	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/live"
)

// epoch is a date of 1970 as text, in a PDF's form too, or as a workbook counts it.
var epoch = regexp.MustCompile(`(^|[^0-9.])1970([-/.]|0101)|<v>25569(\.[0-9]*)?</v>`)

const zeroBasedDrive = "slow-to-go-after.log"

// zeroBased is a drive whose stamps count from its start, with so many digits before the
// point, and its map.
func zeroBased(t *testing.T, digits int) (yaml, log []byte) {
	t.Helper()
	_, d := driven.Drive(t, zeroBasedDrive)
	var b bytes.Buffer
	var line []byte
	start := int64(0)
	d.Play(func(f *decode.Frame) {
		if start == 0 {
			start = f.Time
		}
		line = candump.AppendFrame(line[:0], f)
		_, rest, _ := bytes.Cut(line, []byte(" "))
		at := (f.Time - start) / 1000
		fmt.Fprintf(&b, "(%0*d.%06d) %s", digits, at/1e6, at%1e6, rest)
	})
	return scenario.Map(d.Map), b.Bytes()
}

// A log whose stamps count from 0 has no date, whether it says so or not, in whatever is
// made of it.
func TestALogWithoutADateIsNowhereOf1970(t *testing.T) {
	for name, digits := range map[string]int{"zero-based": 3, "by a clock that was never set": 10} {
		t.Run(name, func(t *testing.T) {
			folder := t.TempDir()
			yaml, log := zeroBased(t, digits)
			for file, content := range map[string][]byte{"map.yaml": yaml, "zero.log": log} {
				if err := os.WriteFile(filepath.Join(folder, file), content, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			path := filepath.Join(folder, "zero.log")
			hold := func(what string, text []byte) {
				t.Helper()
				if m := epoch.Find(text); m != nil {
					i := bytes.Index(text, m)
					t.Errorf("%s: %q", what, text[max(0, i-60):min(len(text), i+60)])
				}
				if len(text) == 0 {
					t.Errorf("%s: nothing", what)
				}
			}
			for _, command := range []struct{ name, endings string }{
				{"episodes", "txt md csv json ndjson xlsx"}, {"standstills", "txt md csv json ndjson xlsx"},
				{"report", "html pdf"}, {"frames", "txt csv json"}, {"samples", "csv ndjson"}, {"starter", "txt json"},
			} {
				for _, ending := range strings.Fields(command.endings) {
					out := filepath.Join(folder, command.name+"."+ending)
					c, _, warn := still()
					if status := run([]string{command.name, path, "-o", out}, c); status != 0 {
						t.Fatalf("%s: status %d: %s", out, status, warn)
					}
					text, err := os.ReadFile(out)
					if err != nil {
						t.Fatal(err)
					}
					hold(filepath.Base(out), text)
					hold("what is said of "+filepath.Base(out), append(warn.Bytes(), '\n'))
					if ending == "xlsx" {
						holdParts(t, text, hold)
					}
					if text := string(text); ending == "json" && command.name == "episodes" && !strings.Contains(text, `"start": null`) {
						t.Error("the JSON document does not say that there is no start")
					}
					if ending == "pdf" {
						holdPDF(t, out, text, hold)
					}
				}
			}
			holdPages(t, folder, yaml, log, hold)
			holdRecording(t, folder, hold)
		})
	}
}

// holdParts holds what is packed in a workbook.
func holdParts(t *testing.T, book []byte, hold func(string, []byte)) {
	t.Helper()
	parts, err := zip.NewReader(bytes.NewReader(book), int64(len(book)))
	if err != nil {
		t.Fatal(err)
	}
	for _, part := range parts.File {
		r, err := part.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		hold("workbook, "+part.Name, text)
		if part.Name == "docProps/core.xml" && bytes.Contains(text, []byte("dcterms:created")) {
			t.Errorf("the workbook has a date of making: %s", text)
		}
	}
}

// holdPDF holds a PDF, whose own dates are left out, and whose text is packed.
func holdPDF(t *testing.T, path string, text []byte, hold func(string, []byte)) {
	t.Helper()
	if bytes.Contains(text, []byte("CreationDate")) || bytes.Contains(text, []byte("ModDate")) {
		t.Error("the PDF has a date of making")
	}
	if _, err := exec.LookPath("pdftotext"); err != nil {
		return // the report says as HTML what it says as PDF
	}
	out, err := exec.Command("pdftotext", path, "-").Output()
	if err != nil {
		t.Fatalf("the PDF cannot be read: %v", err)
	}
	hold("text of the PDF", out)
}

// holdPages holds the page of a drive that was dropped.
func holdPages(t *testing.T, folder string, yaml, log []byte, hold func(string, []byte)) {
	t.Helper()
	s := startServe(t, folder)
	at, err := s.send(context.Background(), yaml, func(w io.Writer) error { _, err := w.Write(log); return err })
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.Get(at)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(text, []byte("drive.log")) {
		t.Errorf("the page of the drive is not that: %.300s", text)
	}
	hold("page", text)
}

// holdRecording holds what is shown of a recording whose frames carry such stamps.
func holdRecording(t *testing.T, folder string, hold func(string, []byte)) {
	t.Helper()
	_, d := driven.Drive(t, zeroBasedDrive)
	address := driven.PlayTo(t, func(w *live.Writer) error {
		start := int64(0)
		d.Play(func(f *decode.Frame) {
			if start == 0 {
				start = f.Time
			}
			early := *f
			early.Time -= start
			w.Frame(&early)
		})
		return w.End()
	})
	c, out, warn := still()
	if status := run([]string{"record", address, "--map", filepath.Join(folder, "map.yaml"), "-o", filepath.Join(folder, "recorded.log")}, c); status != 0 {
		t.Errorf("record: status %d: %s", status, warn)
	}
	hold("recording", out.Bytes())
	hold("what is said while recording", warn.Bytes())
}
