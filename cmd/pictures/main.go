// Command pictures takes pictures of the pages of lull serve and of a report's first
// sheet. The README shows them.
//
//	go run ./cmd/pictures          writes those of the README into examples/pictures
//	go run ./cmd/pictures -all F   writes every page at two widths, light and dark, into
//	                               the folder F, to be looked at
//
// It needs chromium and pdftoppm (Debian: chromium, poppler-utils).
package main

import (
	"bytes"
	"flag"
	"fmt"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"

	"lull/cmd/internal/browser"
)

func main() {
	all := flag.String("all", "", "write every page, light and dark and at two widths, into this `folder`")
	flag.Parse()
	if err := take(*all); err != nil {
		fmt.Fprintln(os.Stderr, "pictures:", err)
		os.Exit(1)
	}
}

// take takes the pictures of the README, or all.
func take(all string) error {
	path, err := browser.Find()
	if err != nil {
		return err
	}
	work, err := os.MkdirTemp("", "lull-pictures-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(work)
	lull, err := browser.Build(work)
	if err != nil {
		return err
	}
	if out, err := exec.Command(lull, "demo", filepath.Join(work, "demo")).CombinedOutput(); err != nil {
		return fmt.Errorf("lull demo: %w\n%s", err, out)
	}
	b, err := browser.Start(path)
	if err != nil {
		return err
	}
	defer b.Close()
	served, err := browser.Serve(lull, work)
	if err != nil {
		return err
	}
	p := &photographer{browser: b, url: served.URL, demo: filepath.Join(work, "demo")}
	if all != "" {
		err = p.everything(all)
	} else if err = p.readme(filepath.Join("examples", "pictures")); err == nil {
		err = sheet(lull, p.demo, filepath.Join("examples", "pictures", "report.png"))
	}
	if said, stopping := served.Stop(); err == nil && stopping != nil {
		err = fmt.Errorf("lull serve: %w\n%s", stopping, said)
	}
	return err
}

// sheet writes the first sheet of a report of a repair as a picture.
func sheet(lull, demo, path string) error {
	pdf := filepath.Join(demo, "report.pdf")
	report := exec.Command(lull, "report", "slow-to-go-after.log", "--before", "slow-to-go-before.log", "-o", pdf, "--quiet",
		"--vehicle", "pool car 7, Tallowmere", "--complaint", "slow to go, the radio goes off", "--order", "4711")
	report.Dir = demo
	if out, err := report.CombinedOutput(); err != nil {
		return fmt.Errorf("lull report: %w\n%s", err, out)
	}
	out, err := exec.Command("pdftoppm", "-png", "-r", "80", "-f", "1", "-l", "1", pdf).Output()
	if err != nil {
		return fmt.Errorf("pdftoppm (Debian: poppler-utils): %w", err)
	}
	img, err := png.Decode(bytes.NewReader(out))
	if err != nil {
		return err
	}
	return write(path, img)
}
