package measuring

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/source"
)

// Order is what to read, by which map and how.
type Order struct {
	Args    []string // files, folders, or - for standard input
	MapPath string   // "": that beside the logs
	NoMap   bool     // none is needed
	Bus     string   // the interface that is decoded; "": any
	Stamps  decode.Stamps
	Output  string // what the result is written to, which is none of what is read
	Stdin   io.Reader
	Stdout  io.Writer // where the result goes without Output
	Terse   bool      // only failures are told

	Version string // of lull
	// Tell is told what should be known besides the result, as it is found.
	Tell func(Note)
	// Progress is told how far the reading of a log is; nil: nobody asks.
	Progress func(Progress)
}

// Note is what should be known besides a result: an error, or a remark on a place.
type Note struct {
	Err         error // nil: it is a remark
	Where, Text string
}

func (n Note) String() string {
	if n.Err != nil {
		return n.Err.Error()
	}
	return n.Where + ": " + n.Text
}

// Progress is how far the reading of a log is.
type Progress struct {
	Log      string
	Position int64 // bytes of the file that were read
	Size     int64 // of the file; 0: not known
	Again    bool  // it is read a second time, for its pictures
	Done     bool  // nothing of it is read any more
}

// Logs are what one command reads.
type Logs struct {
	Order
	Inputs []source.Input
	Map    *decode.Map // restricted to the bus that is decoded
	// Failed: something that was named could not be read; that was told.
	Failed bool
	// MostEpisodes is of how many pictures are made; with more they end with
	// errNoRoom. 0: of any number.
	MostEpisodes int
	again        bool           // they are read a second time
	strays       []held         // files in folders that are no logs, not told as Terse asks
	stray        map[string]int // how many files are no logs, by their folder
	held         []held         // what is to be told of logs, until all are read
}

// New checks an order and reads the map. It opens no log, except that the logs of a
// folder are looked at to put them in the order of their starts.
func New(o Order) (*Logs, error) {
	inputs, expanding := source.Expand(o.Args)
	if expanding != nil && len(inputs) == 0 {
		return nil, expanding
	}
	l := &Logs{Order: o, Inputs: inputs, Map: &decode.Map{}, Failed: expanding != nil}
	path := ""
	if !o.NoMap {
		m, found, err := LoadMap(o.MapPath, o.Args)
		if errors.Is(err, ErrNoMap) {
			// Of a log that does not exist, that is what to say.
			if file, opening := source.Open(inputs[0], strings.NewReader("")); opening != nil {
				return nil, opening
			} else if closing := file.Close(); closing != nil {
				return nil, closing
			}
		}
		if err != nil {
			return nil, err
		}
		l.Map, path = OnlyBus(m, o.Bus), found
	}
	if err := l.notAnInput(path); err != nil {
		return nil, err
	}
	if expanding != nil {
		l.Tell(Note{Err: expanding})
	}
	l.passedOver()
	source.SortFolders(l.Inputs, l.starts(context.Background()))
	return l, nil
}

// passedOver tells which hidden files and backups of the folders given are not read.
func (l *Logs) passedOver() {
	const most = 5
	for _, arg := range l.Args {
		names := source.PassedOver(arg)
		if len(names) == 0 {
			continue
		}
		more := ""
		if n := len(names) - most; n > 0 {
			names, more = names[:most], fmt.Sprintf(" and %d more", n)
		}
		l.Remark(arg, "hidden files and backups are passed over: "+strings.Join(names, ", ")+more+"; name one to read it")
	}
}

// Remark tells something of a place that is no failure.
func (l *Logs) Remark(where, text string) {
	if !l.Terse {
		l.Tell(Note{Where: where, Text: text})
	}
}

// leftOut holds back, to be told, that a log cannot be read. It is no failure where it lies in a folder
// and is no log: a folder may hold other things.
func (l *Logs) leftOut(in source.Input, err error) (failed bool) {
	var f *words.Failure
	stray := in.Folder != "" && errors.As(err, &f) && f.NoLog
	if stray {
		if l.stray == nil {
			l.stray = map[string]int{}
		}
		l.stray[in.Folder]++
	}
	note := held{log: in.Name, Note: Note{Err: err}}
	if stray && l.Terse {
		l.strays = append(l.strays, note)
	} else {
		l.held = append(l.held, note)
	}
	return !stray
}

// nothing ends a command of whose logs none was left: that even a stray one is no log
// is now what to tell.
func (l *Logs) nothing() error {
	l.held = append(l.held, l.strays...)
	l.tellHeld()
	l.tellStrange()
	return words.ErrTold
}

// tellStrange tells which of the folders given hold nothing but files that are no logs.
func (l *Logs) tellStrange() {
	inputs := map[string]int{}
	for _, in := range l.Inputs {
		inputs[in.Folder]++
	}
	for _, folder := range l.Args {
		if n := l.stray[folder]; n == 0 || n < inputs[folder] {
			continue
		}
		delete(l.stray, folder) // it may be given twice
		what := "holds no log that lull can read"
		if skipped := source.Skipped(folder); skipped != "" {
			what += "; skipped besides: " + skipped
		}
		l.Tell(Note{Err: &words.Failure{Where: folder, What: what, Hint: "name the folder that contains the logs"}})
	}
}
