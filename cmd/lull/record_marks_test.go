//go:build unix

package main

import (
	"bytes"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"lull/analyze/scenario/foreign"
	"lull/cmd/lull/internal/recording"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/live"
	"lull/decode/marks"
)

// press is a mark that begins or ends.
type press struct {
	at   float64
	name string
}

// pressesOf are what somebody presses who takes these marks.
func pressesOf(t *testing.T, text []byte) []press {
	t.Helper()
	list, err := marks.Parse("", text)
	if err != nil {
		t.Fatal(err)
	}
	var presses []press
	for _, m := range list {
		if _, known := words.FindMark(m.Name); known && !m.HasValue {
			presses = append(presses, press{m.From, m.Name}, press{m.To, m.Name})
		}
	}
	slices.SortStableFunc(presses, func(a, b press) int { return int(min(1, max(-1, 1000*(a.at-b.at)))) })
	return presses
}

// A drive of an unknown car is played and marked while it is recorded; lull draft finds
// the brake by the marks.
func TestAMarkedDriveIsDrafted(t *testing.T) {
	u := foreign.NewUnknown(3, foreign.Marks)
	presses := pressesOf(t, u.Marks)
	in, hand := io.Pipe()
	warn := &textBuffer{}
	address := driven.PlayTo(t, func(w *live.Writer) error {
		first, pressed := int64(-1), 0
		for f := range u.Play {
			if first < 0 {
				first = f.Time
			}
			for pressed < len(presses) && presses[pressed].at <= float64(f.Time-first)/1e9 {
				w.Flush()
				time.Sleep(30 * time.Millisecond) // until it is recorded
				pressed++
				if _, err := io.WriteString(hand, presses[pressed-1].name+"\n"); err != nil {
					return err
				}
				for range 1000 { // until it is marked
					if strings.Count(warn.String(), "lull: marked: ") >= pressed {
						break
					}
					time.Sleep(time.Millisecond)
				}
			}
			if err := w.Frame(f); err != nil {
				return err
			}
		}
		return w.End()
	})
	t.Chdir(t.TempDir())
	c := &console{in: in, out: io.Discard, err: warn, width: defaultWidth}
	if status := run([]string{"record", address, "-o", "drive.log", "--marks", "drive.marks"}, c); status != statusDone {
		t.Fatalf("status %d\n%s", status, warn)
	}
	hand.Close()
	if !strings.Contains(warn.String(), "; to draft a map: lull draft drive.log --marks drive.marks -o map.yaml") {
		t.Errorf("said %s", warn)
	}
	var out bytes.Buffer
	if status := run([]string{"draft", "drive.log", "--marks", "drive.marks", "-o", "map.yaml"}, &console{in: strings.NewReader(""), out: &out, err: io.Discard, width: 400}); status != statusDone {
		t.Fatalf("status %d\n%s", status, out.String())
	}
	if !regexp.MustCompile(`brake \((sure|likely): on in \d marked times and off around them`).MatchString(out.String()) {
		text, err := os.ReadFile("drive.marks")
		t.Errorf("the brake is not found by its marks:\n%s\n%s %v", out.String(), text, err)
	}
}

// Marks of the page lie beside the log, with the times of the recording.
func TestMarksOfThePageLieBesideTheLog(t *testing.T) {
	folder := t.TempDir()
	proceed := make(chan struct{})
	address := driven.PlayTo(t, func(w *live.Writer) error {
		for n := range int64(101) {
			if err := w.Frame(&decode.Frame{Bus: "can0", Time: 1e18 + n*1e8, Len: 1}); err != nil {
				return err
			}
		}
		w.Flush()
		<-proceed
		return w.End()
	})
	p := recordOnPage(t, recording.Options{Sources: []string{address}, Output: filepath.Join(folder, "drive.log.zst")})
	ended := p.stream(t)
	origin, err := url.Parse(p.address)
	if err != nil {
		t.Fatal(err)
	}
	post := func(form url.Values) string {
		t.Helper()
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.address+"/mark", strings.NewReader(form.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", "http://"+origin.Host)
		r.Header.Set("Accept", "application/json")
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		text, err := io.ReadAll(answer.Body)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	for range 1000 { // until a frame is recorded
		if text := post(url.Values{"mark": {"brake"}}); text == `{"error":""}` {
			break
		}
		time.Sleep(5 * time.Millisecond)
	}
	if text := post(url.Values{"mark": {"brake"}}); text != `{"error":""}` {
		t.Error(text)
	}
	if text := post(url.Values{"value": {"50"}, "unit": {"km/h"}, "ago": {"2000"}}); text != `{"error":""}` {
		t.Error(text)
	}
	if text := post(url.Values{"value": {"fast"}, "unit": {"km/h"}}); !strings.Contains(text, "not what a dashboard shows") {
		t.Error(text)
	}
	time.Sleep(500 * time.Millisecond) // a mark is on the disk as soon as it ends
	text, err := os.ReadFile(filepath.Join(folder, "drive.marks"))
	if err != nil || !regexp.MustCompile(`^brake 10\.\d\d 10\.\d\d\nvehicle_speed 8\.\d\d 8\.\d\d 50 km/h\n$`).Match(text) {
		t.Errorf("%q %v", text, err)
	}
	close(proceed)
	told := <-ended
	if last := told.states[len(told.states)-1]; last.Marks == nil || last.Marks.Count != 2 || last.Marks.File != "drive.marks" {
		t.Errorf("the page is told %+v", last.Marks)
	}
	if text := post(url.Values{"mark": {"brake"}}); !strings.Contains(text, "the recording has ended") {
		t.Error(text)
	}
	if err := p.stop(); err != nil {
		t.Error(err)
	}
}
