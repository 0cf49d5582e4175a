package recording

import (
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/marks"
	"lull/pkg/source"
)

// mostTaken is how many of the marks taken are shown.
const mostTaken = 8

// markFile is what marks are written into.
type markFile interface {
	logFile
	Hurry()
}

// marker takes marks on the clock of the recording: seconds from the first frame recorded,
// which go on where no frame comes. Each mark is written when it ends. Its methods may be
// called by several goroutines.
type marker struct {
	path string
	now  func() time.Time
	make func() (markFile, error) // begins the file

	mutex   sync.Mutex
	file    markFile // nil: no mark was written yet
	begun   bool     // a frame was recorded
	first   int64    // its time
	last    int64    // the time of the latest frame
	arrived time.Time
	on      []marks.Mark // open ones, in the order in which they were begun
	taken   []marks.Mark // the latest ones
	count   int
	ended   bool
}

// newMarker returns a marker that makes its file at the first mark.
func newMarker(path string, now func() time.Time) *marker {
	return &marker{path: path, now: now, make: func() (markFile, error) { return source.Create(path) }}
}

// create makes the file at once, so that one that cannot be is told before the recording
// begins.
func (m *marker) create() error {
	file, err := m.make()
	if err == nil {
		m.file = file
	}
	return err
}

// see sets the clock by frames that arrived.
func (m *marker) see(frames []decode.Frame, now time.Time) {
	if len(frames) == 0 {
		return
	}
	m.mutex.Lock()
	defer m.mutex.Unlock()
	if !m.begun {
		m.begun, m.first = true, frames[0].Time
	}
	m.last, m.arrived = frames[len(frames)-1].Time, now
}

// clock returns the time of the recording. The mutex must be held.
func (m *marker) clock(at time.Time) float64 {
	return math.Max(0, float64(m.last-m.first)/1e9+at.Sub(m.arrived).Seconds())
}

// ready says why no mark can be taken. The mutex must be held.
func (m *marker) ready() error {
	switch {
	case m.ended:
		return &words.Failure{What: "not marked: the recording has ended"}
	case !m.begun:
		return &words.Failure{What: "not marked: no frame was recorded yet", Hint: "marks are counted from the first frame"}
	}
	return nil
}

// toggle begins a mark, or ends it where it was begun. It says which.
func (m *marker) toggle(name string, at time.Time) (text string, err error) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	if err := m.ready(); err != nil {
		return "", err
	}
	now := m.clock(at)
	i := slices.IndexFunc(m.on, func(o marks.Mark) bool { return o.Name == name })
	if i < 0 {
		m.on = append(m.on, marks.Mark{Name: name, From: now})
		return words.NewOpenMark(name, now).Text, nil
	}
	mark := m.on[i]
	mark.To = max(now, mark.From)
	if err := m.write(mark); err != nil {
		return "", err
	}
	m.on = slices.Delete(m.on, i, i+1)
	return words.MarkText(mark), nil
}

// read takes what the dashboard showed at a moment, such as `50 km/h`.
func (m *marker) read(text string, at time.Time) (string, error) {
	mark, err := marks.Reading(text)
	if err != nil {
		return "", err
	}
	m.mutex.Lock()
	defer m.mutex.Unlock()
	if err := m.ready(); err != nil {
		return "", err
	}
	mark.From = m.clock(at)
	mark.To = mark.From
	if err := m.write(mark); err != nil {
		return "", err
	}
	return words.MarkText(mark), nil
}

// write has a mark written. The mutex must be held.
func (m *marker) write(mark marks.Mark) error {
	if m.file == nil {
		if err := m.create(); err != nil {
			return notMarked(m.path, err)
		}
	}
	if _, err := m.file.Write(marks.Append(nil, mark)); err != nil {
		return notMarked(m.path, err)
	}
	m.file.Hurry()
	m.count++
	m.taken = append(m.taken, mark)
	if len(m.taken) > mostTaken {
		m.taken = slices.Delete(m.taken, 0, 1)
	}
	return nil
}

func notMarked(path string, err error) error {
	var known *source.Error
	if errors.As(err, &known) {
		return err
	}
	return &words.Failure{Where: path, What: "the mark was not written: " + words.PlainError(err), Hint: "choose another place with --marks", Cause: err}
}

// state is what is marked.
func (m *marker) state() *words.LiveMarks {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	s := &words.LiveMarks{File: words.Visible(filepath.Base(m.path)), Count: m.count}
	for _, o := range m.on {
		s.On = append(s.On, words.NewOpenMark(o.Name, o.From))
	}
	for _, t := range slices.Backward(m.taken) {
		s.Taken = append(s.Taken, words.MarkText(t))
	}
	return s
}

// close ends what is still marked and closes the file. It returns how many marks were
// taken.
func (m *marker) close(at time.Time) (count int, err error) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	m.ended = true
	for _, mark := range m.on {
		mark.To = max(m.clock(at), mark.From)
		if err == nil {
			err = m.write(mark)
		}
	}
	m.on = nil
	if m.file != nil {
		if fault := m.file.Close(); err == nil {
			err = fault
		}
	}
	return m.count, err
}

// besideLog is the name of the marks of a log.
func besideLog(path string) string {
	for _, ending := range []string{".zst", ".log"} {
		path = strings.TrimSuffix(path, ending)
	}
	return path + ".marks"
}

// startMarks begins what takes marks, if any are to be taken.
func (r *Recorder) startMarks() error {
	path := r.MarksPath
	switch {
	case path == "" && !r.MarksBeside:
		return nil
	case path == "":
		r.marks = newMarker(besideLog(r.Path), r.now)
		return nil
	}
	r.marks = newMarker(path, r.now)
	return r.marks.create()
}

// MarksFile is the file of what is marked, which may not be there yet; "": nothing is.
func (r *Recorder) MarksFile() string {
	if r.marks == nil {
		return ""
	}
	return r.marks.path
}

// checkMarks says what is wrong with a name for marks.
func checkMarks(path string) error {
	switch {
	case path == "-":
		return words.Misused("name a file, such as drive.marks", "--marks -: marks are written into a file")
	case strings.HasSuffix(strings.ToLower(path), ".zst"):
		return words.Misused("leave .zst out", "--marks %s: marks are not packed", path)
	}
	return nil
}

// Toggle begins or ends a mark, at the time ago before now.
func (r *Recorder) Toggle(name string, ago time.Duration) error {
	_, err := r.marks.toggle(name, r.now().Add(-ago))
	return err
}

// Read takes what the dashboard showed the time ago before now.
func (r *Recorder) Read(text string, ago time.Duration) error {
	_, err := r.marks.read(text, r.now().Add(-ago))
	return err
}

// finishMarks writes what is still marked and says what the marks are for.
func (r *Recorder) finishMarks() {
	if r.marks == nil {
		return
	}
	count, err := r.marks.close(r.now())
	if err != nil {
		r.fail(err.Error())
		return
	}
	if count > 0 {
		log := r.Path
		if log == "-" {
			log = "LOG"
		}
		r.remark("%s: %s; to draft a map: lull draft %s --marks %s -o map.yaml", r.marks.path, decode.Counted(int64(count), "mark", "marks"), quoted(log), quoted(r.marks.path))
	}
}

// quoted returns a path as a shell takes it.
func quoted(path string) string {
	if strings.ContainsAny(path, " \t\"'`$&|;<>()*?[]#!") {
		return "'" + strings.ReplaceAll(path, "'", `'\''`) + "'"
	}
	return path
}

// marksText says where marks go, and how they are taken.
func (r *Recorder) marksText() string {
	return fmt.Sprintf("marks go into %s; what to do in the car: lull draft --how", r.marks.path)
}
