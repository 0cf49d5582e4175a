package scenario

import (
	"bufio"
	"io"
	"strconv"
	"sync"

	"lull/decode"
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
		line = appendLine(line[:0], f)
		_, err = b.Write(line)
		return err == nil
	})
	if err != nil {
		return err
	}
	return b.Flush()
}

const hexDigits = "0123456789ABCDEF"

// appendLine writes a classic data frame in candump's log form.
func appendLine(dst []byte, f *decode.Frame) []byte {
	dst = append(dst, '(')
	dst = strconv.AppendInt(dst, f.Time/1e9, 10)
	dst = append(dst, '.')
	for unit := int64(1e8); unit >= 1000; unit /= 10 {
		dst = append(dst, byte('0'+f.Time/unit%10))
	}
	dst = append(dst, ") "...)
	dst = append(dst, f.Bus...)
	dst = append(dst, ' ')
	digits := 3
	if f.Flags.Has(decode.Extended) {
		digits = 8
	}
	for i := digits - 1; i >= 0; i-- {
		dst = append(dst, hexDigits[f.ID>>(4*i)&0xF])
	}
	dst = append(dst, '#')
	for _, b := range f.Payload() {
		dst = append(dst, hexDigits[b>>4], hexDigits[b&0xF])
	}
	return append(dst, '\n')
}

// Drives returns the drives of the demonstration, in the order in which they
// are best looked at.
func Drives() []Drive { return append([]Drive(nil), catalogue()...) }

var catalogue = sync.OnceValue(makeCatalogue)
