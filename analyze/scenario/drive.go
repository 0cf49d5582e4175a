package scenario

import (
	"bufio"
	"io"
	"sync"

	"lull/decode"
	"lull/decode/candump"
)

// Drive is one drive of a made-up car whose truth is known.
type Drive struct {
	Name  string // of its log, relative to the demonstration's folder, with slashes: "town.log"
	Title string // what it shows, one line
	Map   string // the map that its log needs, likewise: "map.yaml"
	plan  *plan
}

// Frames hands out the drive's frames in order of time until yield returns
// false. The frame belongs to the drive until the next one.
func (d Drive) Frames(yield func(*decode.Frame) bool) { newWorld(d.plan).play(yield) }

// Play hands out all frames and returns the truth of the same run.
func (d Drive) Play(yield func(*decode.Frame)) Truth {
	w := newWorld(d.plan)
	w.play(func(f *decode.Frame) bool { yield(f); return true })
	return w.record.truth
}

// Truth runs the drive and returns what happened.
func (d Drive) Truth() Truth { return d.Play(func(*decode.Frame) {}) }

// WriteLog writes the drive in candump's log form. The only errors are w's own.
func (d Drive) WriteLog(w io.Writer) error {
	b := bufio.NewWriterSize(w, 1<<16)
	var line []byte
	var err error
	d.Frames(func(f *decode.Frame) bool {
		line = candump.AppendFrame(line[:0], f)
		_, err = b.Write(line)
		return err == nil
	})
	if err != nil {
		return err
	}
	return b.Flush()
}

// Drives returns the drives of the demonstration, in the order in which they
// are best looked at.
func Drives() []Drive { return append([]Drive(nil), catalogue()...) }

var catalogue = sync.OnceValue(makeCatalogue)
