//go:build unix

package recording

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lull/analyze/draft"
	"lull/analyze/scenario/foreign"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/live"
	"lull/decode/marks"
)

// memoryMarks is a file of marks in memory.
type memoryMarks struct {
	memoryLog
	hurried int
}

func (m *memoryMarks) Hurry() { m.hurried++ }

// marking is a recording in which marks are taken by a clock that the test sets.
type marking struct {
	*Recorder
	at   time.Time
	file *memoryMarks
	warn *bytes.Buffer
}

func newMarking(t *testing.T) *marking {
	t.Helper()
	c, _, warn := still()
	m := &marking{at: time.Unix(1_800_000_000, 0), file: &memoryMarks{}, warn: warn}
	m.Recorder = newRecorder(Options{Screen: c, MarksPath: "drive.marks"}, nil, "drive.log", discard{})
	m.now = func() time.Time { return m.at }
	m.marks = newMarker("drive.marks", m.now)
	m.marks.make = func() (markFile, error) { return m.file, nil }
	return m
}

// pass lets time pass, at the end of which a frame comes.
func (m *marking) pass(d time.Duration) {
	m.at = m.at.Add(d)
	m.take(&live.Lot{Frames: []decode.Frame{{Bus: "can0", ID: 1, Len: 1, Time: 5e9 + m.at.UnixNano()}}})
}

func (m *marking) keyboard() *keyboard {
	return &keyboard{marks: m.marks, now: m.now, say: func(text string) { m.remark("%s", text) }, warn: func(text string) { m.Recorder.warn("%s", text) }}
}

// Keys begin and end marks by the clock of the recording, whatever the clock of the frames
// is, and go on where no frame comes.
func TestKeysBeginAndEndMarks(t *testing.T) {
	m := newMarking(t)
	k := m.keyboard()
	k.press([]byte("b"))
	m.pass(0)
	m.pass(10 * time.Second)
	k.press([]byte("b"))
	m.at = m.at.Add(1500 * time.Millisecond) // without a frame
	k.press([]byte("L"))
	m.pass(500 * time.Millisecond)
	k.press([]byte("b"))
	if diff := cmp.Diff("brake 10.00 12.00\n", m.file.String()); diff != "" || m.file.hurried != 1 {
		t.Errorf("while the turn lamp is on: %s", diff)
	}
	k.press([]byte("\x1b[B\x04xyz"))
	k.press([]byte("d50"))
	s := m.marks.state()
	k.show(s)
	if !s.Typing || s.Typed != "50" || !s.IsOn("turn_left") || s.IsOn("brake") || s.Now() != "marked now: turn lamp left since 11.5 s" {
		t.Errorf("%+v", s)
	}
	m.pass(3 * time.Second) // of typing
	k.press([]byte("4\x7f km/h\r"))
	k.press([]byte("d9 bar\n"))
	k.press([]byte("d7\x158 \xc2\xb0C\n"))
	k.press([]byte("d1"))
	k.press([]byte("\x1b"))
	k.press([]byte("s"))
	m.pass(time.Second)
	if err := m.finish(); err != nil {
		t.Error(err)
	}
	k.press([]byte("a"))
	want := "brake 10.00 12.00\nvehicle_speed 12.00 12.00 50 km/h\ncoolant 15.00 15.00 8 degC\nturn_left 11.50 16.00\nsteering 15.00 16.00\n"
	if diff := cmp.Diff(want, m.file.String()); diff != "" {
		t.Error(diff)
	}
	if _, err := marks.Parse("drive.marks", m.file.Bytes()); err != nil {
		t.Error(err)
	}
	said := m.warn.String()
	for _, part := range []string{
		"not marked: no frame was recorded yet; marks are counted from the first frame",
		"marked: brake since 10.0 s",
		"marked: brake from 10.0 to 12.0 s",
		"marked: vehicle speed 50 km/h at 12.0 s",
		`the unit "bar" is not known; give a number and its unit`,
		"drive.marks: 5 marks; to draft a map: lull draft drive.log --marks drive.marks -o map.yaml",
	} {
		if !strings.Contains(said, part) {
			t.Errorf("%q is not said in\n%s", part, said)
		}
	}
}

// The lines of a pipe do the same; one that marks nothing is told, with the keys that there
// are.
func TestLinesBeginAndEndMarks(t *testing.T) {
	m := newMarking(t)
	m.pass(0)
	m.pass(2 * time.Second)
	m.keyboard().lines(t.Context(), strings.NewReader("b\n\n brake \nfog lamp\nd 850 rpm\nd\n"))
	if diff := cmp.Diff("brake 2.00 2.00\nengine_speed 2.00 2.00 850 rpm\n", m.file.String()); diff != "" {
		t.Error(diff)
	}
	m.keyboard().lines(t.Context(), strings.NewReader(""))
	m.keyboard().lines(t.Context(), strings.NewReader(strings.Repeat("b", 1<<20)))
	if err := m.finish(); err != nil {
		t.Error(err)
	}
	for _, part := range []string{"not marked: fog lamp; known are b brake, l turn lamp left", "not what a dashboard shows", "standard input has no lines, so nothing is marked", "standard input cannot be read on ("} {
		if !strings.Contains(m.warn.String(), part) {
			t.Errorf("%q is not said in\n%s", part, m.warn)
		}
	}
}

// Marks that cannot be written are told at once, and the recording is not what it was
// meant to be.
func TestMarksThatCannotBeWrittenAreTold(t *testing.T) {
	m := newMarking(t)
	m.pass(0)
	m.file.fault = errors.New("the disk is full")
	k := m.keyboard()
	k.press([]byte("bb"))
	if s := m.marks.state(); !s.IsOn("brake") || s.Count != 0 {
		t.Errorf("%+v", s)
	}
	if err := m.finish(); !errors.Is(err, words.ErrTold) || strings.Count(m.warn.String(), "drive.marks: the mark was not written: the disk is full; choose another place with --marks") != 2 {
		t.Errorf("%v\n%s", err, m.warn)
	}
}

// A file of marks that is there is kept, and then nothing is recorded.
func TestMarksAreNeverWrittenOver(t *testing.T) {
	folder := t.TempDir()
	log, path := filepath.Join(folder, "drive.log"), filepath.Join(folder, "drive.marks")
	if err := os.WriteFile(path, []byte("brake 1 2\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{path: "already exists", log: "drive.log", "-": "marks are written into a file", "a.ZST": "marks are not packed"} {
		_, err := Start(t.Context(), Options{Sources: []string{"unix:none.sock"}, Output: log, MarksPath: name})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	left, err := filepath.Glob(filepath.Join(folder, "*"))
	if err != nil || !slices.Equal(left, []string{path}) {
		t.Errorf("there are %q, %v", left, err)
	}
}

// Keys are read singly while it is recorded and never longer.
func TestTheTerminalIsGivenBack(t *testing.T) {
	for _, refused := range []error{nil, errors.New("lull runs in the background")} {
		c, _, warn := still()
		single := 0
		in, keys := io.Pipe()
		c.Drawn = true
		folder := t.TempDir()
		address := driven.PlayTo(t, func(w *live.Writer) error {
			if err := w.Frame(&decode.Frame{Bus: "can0", Time: 1e18, Len: 1}); err != nil {
				return err
			}
			w.Flush()
			time.Sleep(100 * time.Millisecond) // until it is recorded
			keys.Write([]byte("b"))
			keys.Write([]byte("b"))
			return w.End()
		})
		r, err := Start(t.Context(), Options{Sources: []string{address}, Output: filepath.Join(folder, "drive.log"), MarksPath: filepath.Join(folder, "drive.marks"),
			Screen: c, Keys: Keys{In: in, Single: func() (func(), error) { single++; return func() { single-- }, refused }}})
		if err != nil {
			t.Fatal(err)
		}
		if refused != nil {
			single--
			if err := r.Run(t.Context()); err == nil || !strings.Contains(err.Error(), "keys cannot be read: lull runs in the background") {
				t.Error(err)
			}
			in.Close()
		} else if err := r.Run(t.Context()); err != nil {
			t.Error(err)
		}
		if single != 0 {
			t.Errorf("%v: the terminal is left as it was set", refused)
		}
		if text, err := os.ReadFile(filepath.Join(folder, "drive.marks")); refused == nil && (err != nil || !strings.HasPrefix(string(text), "brake 0.")) {
			t.Errorf("%q %v, said %s", text, err, warn)
		}
	}
}

// The lines below what is on the bus fit, and say which keys there are.
func TestTheKeysStandBelow(t *testing.T) {
	s := &words.LiveMarks{Keys: true, On: []words.OpenMark{words.NewOpenMark("brake", 3.21)}}
	for _, width := range []int{20, 39, 79, 200} {
		lines := marksLines(s, width)
		for _, line := range lines {
			if len(line) > width {
				t.Errorf("%q is wider than %d", line, width)
			}
		}
		if width == 79 {
			want := []string{
				"keys: b brake, l turn lamp left, r turn lamp right, s steering,",
				"a air conditioning, c cancel switch, d what the dashboard shows",
				"marked now: brake since 3.2 s",
			}
			if diff := cmp.Diff(want, lines); diff != "" {
				t.Error(diff)
			}
		}
	}
	s.Typing, s.Typed = true, "50"
	if last := marksLines(s, 79)[2]; !strings.HasPrefix(last, "the dashboard shows: 50_") {
		t.Error(last)
	}
	if marksLines(nil, 79) != nil {
		t.Error("there are keys where nothing is marked")
	}
}

// A drive of an unknown car, marked by keys while it is played: the draft of the log and the
// marks finds the brake.
func TestABrakeThatWasMarkedIsDrafted(t *testing.T) {
	u := foreign.NewUnknown(3, foreign.Marks)
	meant, err := marks.Parse("", u.Marks)
	if err != nil {
		t.Fatal(err)
	}
	type press struct {
		at   float64
		name string
	}
	var presses []press
	for _, m := range meant {
		if !m.HasValue {
			presses = append(presses, press{m.From, m.Name}, press{m.To, m.Name})
		}
	}
	slices.SortStableFunc(presses, func(a, b press) int { return int(min(1, max(-1, 1000*(a.at-b.at)))) })
	c, _, _ := still()
	log, file := &memoryLog{}, &memoryMarks{}
	r := newRecorder(Options{Quiet: true, Screen: c}, nil, "drive.log", log)
	var now time.Time
	first := int64(-1)
	r.now = func() time.Time { return now }
	r.marks = newMarker("drive.marks", r.now)
	r.marks.make = func() (markFile, error) { return file, nil }
	for f := range u.Play {
		if first < 0 {
			first = f.Time
		}
		now = time.Unix(0, f.Time)
		for len(presses) > 0 && presses[0].at <= float64(f.Time-first)/1e9 {
			if err := r.Toggle(presses[0].name, 0); err != nil {
				t.Fatal(err)
			}
			presses = presses[1:]
		}
		r.take(&live.Lot{Frames: []decode.Frame{*f}})
	}
	if err := r.finish(); err != nil {
		t.Fatal(err)
	}
	taken, err := marks.Parse("drive.marks", file.Bytes())
	if err != nil || len(taken) == 0 {
		t.Fatalf("%v\n%s", err, file)
	}
	d := draft.New()
	d.NextLog()
	reader := candump.NewReader(bytes.NewReader(log.Bytes()), candump.Options{})
	for reader.Scan() {
		d.Push(reader.Frame())
	}
	brake := d.Draft(draft.Options{Marks: taken}).Signal(draft.Brake)
	if brake == nil {
		t.Fatalf("no brake by the marks\n%s", file)
	}
	if _, ok := brake.Evidence[0].(draft.InMarks); !ok {
		t.Errorf("the brake was not found by its marks: %#v", brake.Evidence)
	}
	without := d.Draft(draft.Options{})
	if s := without.Signal(draft.Brake); s != nil {
		if _, ok := s.Evidence[0].(draft.InMarks); ok {
			t.Error("there is a mark without marks")
		}
	}
}
