//go:build unix

package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/cmd/lull/internal/recording"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/serve/web"
	"lull/cmd/lull/internal/serving"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/live"
)

// A drive that is played at twenty times its speed: every browser, from the beginning,
// in the middle or after the end, is told each episode that lull episodes finds in the
// recorded log, in order; browsers that read nothing cost no frame; the terminal says
// the same; and the recording is measured on the page.
func TestAPlayedDriveIsToldOnThePage(t *testing.T) {
	folder, log := writeDrive(t, "slow-to-go-before.log")
	socket := "unix:" + filepath.Join(folder, "car.sock")
	recorded := filepath.Join(folder, "new.log")
	p := recordOnPage(t, recording.Options{Sources: []string{socket}, Output: recorded})
	early := p.stream(t)
	for range 3 {
		p.stuckStream(t)
	}
	played := make(chan int, 1)
	go func() {
		played <- run([]string{"replay", filepath.Join(folder, "played.log"), "--to", socket, "--speed", "20", "--quiet"}, &console{out: io.Discard, err: io.Discard, width: defaultWidth})
	}()
	for range 1000 { // until the middle of the drive
		if strings.Contains(p.out.String(), "episode 5 ") {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	middle := p.stream(t)
	first := <-early
	if status := <-played; status != statusDone || first.end != "ended" {
		t.Fatalf("played with status %d, the stream ended with %q", status, first.end)
	}
	want, standstills, attention := measuredEpisodes(t, recorded)
	for name, s := range map[string]*told{"from the beginning": first, "from the middle": <-middle, "after the end": <-p.stream(t)} {
		var heads []string
		for _, n := range s.news {
			if n.Kind == words.NewsEpisode {
				heads = append(heads, n.Head)
			}
		}
		if diff := cmp.Diff(want, heads); diff != "" {
			t.Errorf("%s:\n%s", name, diff)
		}
		if diff := cmp.Diff(first.news, s.news); diff != "" {
			t.Errorf("%s, against from the beginning:\n%s", name, diff)
		}
		last := s.states[len(s.states)-1]
		if last.Episodes != len(want) || last.Standstills != standstills || last.Standstills != len(s.lines(words.NewsStandstill)) || last.Attention != len(s.lines(words.NewsAttention)) {
			t.Errorf("%s: %d episodes, %d standstills, %d findings in the state, of %d, %d", name, last.Episodes, last.Standstills, last.Attention, len(want), standstills)
		}
	}
	if last := first.states[len(first.states)-1]; last.Attention < attention {
		t.Errorf("%d findings told of %d", last.Attention, attention)
	}
	var shown []string
	for line := range strings.Lines(p.out.String()) {
		if strings.HasPrefix(line, "episode ") {
			shown = append(shown, strings.TrimSpace(line))
		}
	}
	if diff := cmp.Diff(first.lines(words.NewsEpisode), shown); diff != "" {
		t.Errorf("page and terminal:\n%s", diff)
	}
	running, stopped := false, false
	for _, s := range first.states {
		running = running || strings.HasPrefix(s.Headline, "Engine running, moving; ")
		stopped = stopped || strings.HasPrefix(s.Headline, "Engine stopped for ")
	}
	if !running || !stopped {
		t.Error("the page never said that the engine ran, or that it was stopped")
	}
	if got, err := os.ReadFile(recorded); err != nil || !bytes.Equal(got, log) {
		t.Errorf("the recorded log is not the drive: %d bytes of %d, %v", len(got), len(log), err)
	}
	if text := p.post(t, "/drives", map[string]string{"recorded": "yes"}); !strings.Contains(text, "<title>new.log - Idle stops: Tallowmere") || !strings.Contains(text, "The engine was stopped in 10 of ") {
		t.Errorf("measured on the page:\n%.2000s", text)
	}
	if err := p.stop(); err != nil {
		t.Error(err)
	}
	if !strings.Contains(p.out.String(), "The engine was stopped in 10 of ") || !strings.Contains(p.warn.String(), "its page is served on until Ctrl-C") {
		t.Errorf("printed:\n%s\n%s", p.out, p.warn)
	}
}

// A bus as full as it can be is recorded without a loss while browsers do not read.
func TestBrowsersCostNoFrame(t *testing.T) {
	const frames = 200_000
	begin := make(chan struct{})
	address := driven.PlayTo(t, func(w *live.Writer) error {
		<-begin
		f := decode.Frame{Bus: "can0", ID: 0x123, Len: 8}
		for n := range frames {
			f.Time = 1_700_000_000e9 + int64(n)*125e3
			if err := w.Frame(&f); err != nil {
				return err
			}
		}
		return w.End()
	})
	recorded := filepath.Join(t.TempDir(), "drive.log")
	p := recordOnPage(t, recording.Options{Sources: []string{address}, Output: recorded, Bitrate: 1e6})
	for range 5 {
		p.stuckStream(t)
	}
	read := p.stream(t)
	close(begin)
	if s := <-read; s.end != "ended" || !strings.Contains(strings.Join(s.lines(words.NewsRemark), "\n"), fmt.Sprintf("%d frames", frames)) {
		t.Errorf("%s: %q", s.end, s.lines(words.NewsRemark))
	}
	if err := p.stop(); err != nil {
		t.Error(err)
	}
	text, err := os.ReadFile(recorded)
	if err != nil || bytes.Count(text, []byte("\n")) != frames {
		t.Errorf("%d lines, %v", bytes.Count(text, []byte("\n")), err)
	}
}

// A source that goes away is told while it is away, and that it came back; a hostile
// name of an interface is text.
func TestThePageTellsOfASourceThatWentAway(t *testing.T) {
	_, d := driven.Drive(t, "town.log")
	var frames []decode.Frame
	for f := range d.Frames {
		one := *f
		one.Bus = "<b>\"bus"
		frames = append(frames, one)
	}
	part := make(chan []decode.Frame, 2)
	part <- frames[:len(frames)/2]
	part <- frames[len(frames)/2:]
	close(part)
	begin := make(chan struct{})
	address := driven.PlayTo(t, func(w *live.Writer) error {
		<-begin
		lot := <-part
		for i := range lot {
			if err := w.Frame(&lot[i]); err != nil {
				return err
			}
		}
		if len(part) == 0 {
			return w.End()
		}
		return w.Flush()
	})
	folder, _ := writeDrive(t, "town.log")
	p := recordOnPage(t, recording.Options{Sources: []string{address}, Output: filepath.Join(folder, "new.log")})
	stream := p.stream(t)
	close(begin)
	s := <-stream
	remarks := strings.Join(s.lines(words.NewsRemark), "\n")
	if strings.Count(remarks, "went away (the connection broke off)") != 1 || strings.Count(remarks, ": recording into ") != 2 || s.end != "ended" {
		t.Errorf("%s: %s", s.end, remarks)
	}
	away := func(s web.LiveState) bool {
		return len(s.Lacks) == 1 && s.Lacks[0] == address+" went away; it is waited for"
	}
	if at := slices.IndexFunc(s.states, away); at < 0 || away(s.states[len(s.states)-1]) {
		t.Errorf("that it is away was told first in state %d of %d", at, len(s.states))
	}
	answer, err := http.Get(p.address)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil || !bytes.Contains(text, []byte(`<b>&lt;b&gt;&#34;bus</b>`)) {
		t.Errorf("%v\n%s", err, text)
	}
}

// The page's button ends the recording; the server goes on until Ctrl-C.
func TestARecordingIsEndedOnThePage(t *testing.T) {
	_, d := driven.Drive(t, "town.log")
	address := playWithoutEnd(t, d)
	folder, log := writeDrive(t, "town.log")
	recorded := filepath.Join(folder, "new.log")
	p := recordOnPage(t, recording.Options{Sources: []string{address}, Output: recorded})
	waitForLog(t, recorded, len(log))
	text := p.post(t, "/live/end", nil)
	heads, standstills, _ := measuredEpisodes(t, recorded)
	if want := fmt.Sprintf("The recording has ended: %d episodes, %d standstills.", len(heads), standstills); !strings.Contains(text, want) || !strings.Contains(text, "Measure this recording") {
		t.Errorf("not %s\n%s", want, text)
	}
	if got, err := os.ReadFile(recorded); err != nil || !bytes.Equal(got, log) {
		t.Errorf("the recorded log is not the drive: %d bytes of %d, %v", len(got), len(log), err)
	}
	if err := p.stop(); err != nil {
		t.Error(err)
	}
}

// Ctrl-C ends the log properly, tells the browsers, and prints the summary.
func TestAnInterruptEndsARecordingOnThePage(t *testing.T) {
	_, d := driven.Drive(t, "town.log")
	address := playWithoutEnd(t, d)
	folder, log := writeDrive(t, "town.log")
	cmd := lullCommand(t, folder, "serve", "--interface", address, "--quiet")
	p := &recordingPage{out: &textBuffer{}, warn: &textBuffer{}}
	cmd.Stdout, cmd.Stderr = p.out, p.warn
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer cmd.Process.Kill()
	p.address = addressIn(t, p.out.String)
	stream := p.stream(t)
	waitForLog(t, filepath.Join(folder, "lull-*.log"), len(log))
	cmd.Process.Signal(syscall.SIGINT)
	if err := cmd.Wait(); err != nil {
		t.Fatalf("%v\n%s", err, p.warn)
	}
	if !strings.Contains(p.out.String(), "The engine was stopped in 5 of 5 standstills.") || p.warn.String() != "" {
		t.Errorf("no summary:\n%s\n%s", p.out, p.warn)
	}
	logs, err := filepath.Glob(filepath.Join(folder, "lull-*.log"))
	if err != nil || len(logs) != 1 {
		t.Fatalf("%v %v", logs, err)
	}
	heads, _, _ := measuredEpisodes(t, logs[0])
	if s := <-stream; s.end != "gone" || len(s.lines(words.NewsEpisode)) != len(heads) {
		t.Errorf("the stream ended with %q after %d episodes of %d", s.end, len(s.lines(words.NewsEpisode)), len(heads))
	}
	if got, err := os.ReadFile(logs[0]); err != nil || !bytes.Equal(got, log) {
		t.Errorf("the log is not the drive: %d bytes of %d, %v", len(got), len(log), err)
	}
}

// What cannot be recorded is told, and leaves neither server nor file behind.
func TestWhatCannotBeRecordedOnAPageIsTold(t *testing.T) {
	folder := t.TempDir()
	out := filepath.Join(folder, "new.log")
	bad := filepath.Join(folder, "bad.yaml")
	if err := os.WriteFile(bad, []byte("format: 2\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	taken := recordOnPage(t, recording.Options{Sources: []string{"unix:" + filepath.Join(folder, "none.sock")}, Output: filepath.Join(folder, "other.log")})
	u, err := url.Parse(taken.address)
	if err != nil {
		t.Fatal(err)
	}
	port := 0
	fmt.Sscan(u.Port(), &port)
	source := []string{"unix:" + filepath.Join(folder, "car.sock")}
	for name, c := range map[string]struct {
		recording.Options
		port int
		want string
	}{
		"to standard output":   {recording.Options{Sources: source, Output: "-"}, 0, "-o -: the page's address is written to standard output"},
		"no source":            {recording.Options{Sources: []string{"udp:1"}, Output: out}, 0, "udp:1"},
		"a port that is taken": {recording.Options{Sources: source, Output: out}, port, "another program listens on it"},
		"a map with mistakes":  {recording.Options{Sources: source, Output: out, MapPath: bad}, 0, "format"},
		"a file that is there": {recording.Options{Sources: source, Output: bad}, 0, "already exists"},
		"a file of nothing":    {recording.Options{Output: out}, 0, "-o, --bitrate and --marks are those of a recording; say what to record with --interface"},
	} {
		c.Screen = (&console{out: io.Discard, err: io.Discard, width: defaultWidth}).screen()
		err := serving.Run(t.Context(), serving.Options{Options: c.Options, Port: c.port, Largest: 64})
		if err == nil || errors.Is(err, words.ErrTold) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := os.Stat(out); err == nil {
			t.Errorf("%s: a file is left", name)
		}
	}
	if err := taken.stop(); !errors.Is(err, words.ErrTold) || !strings.Contains(taken.warn.String(), "no frame was recorded") {
		t.Errorf("of a recording of nothing: %v %s", err, taken.warn)
	}
	// A name that no waiting helps ends the server by itself.
	var warn textBuffer
	none := recording.Options{Sources: []string{"nocan9"}, Output: out, Quiet: true, Screen: (&console{out: io.Discard, err: &warn, width: defaultWidth}).screen()}
	if err := serving.Run(t.Context(), serving.Options{Options: none, Largest: 64}); !errors.Is(err, words.ErrTold) || !strings.Contains(warn.String(), "nocan9") {
		t.Errorf("%v %s", err, warn.String())
	}
}
