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

// Order says what to read, by which map and how.
type Order struct {
	Args    []string // files, folders, or - for standard input
	MapPath string   // "": that beside the logs
	NoMap   bool     // none is needed
	Bus     string   // the interface that is decoded; "": any
	Stamps  decode.Stamps
	Output  string // the file the result is written to; it must not be one that is read
	Stdin   io.Reader
	Stdout  io.Writer // where the result goes if Output is ""
	Terse   bool      // report failures only

	Version string // of lull
	// Tell receives what should be known besides the result, as it is found.
	Tell func(Note)
	// Progress, unless nil, receives how far the reading of a log is.
	Progress func(Progress)
}

// Note is something to know besides a result: an error, or a remark on a place.
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
	Again    bool  // this is the second reading, for the pictures
	Done     bool  // reading has ended
}

// Logs are the logs of one command.
type Logs struct {
	Order
	Inputs []source.Input
	Map    *decode.Map // restricted to the bus that is decoded
	// Failed reports whether something named could not be read, which was told.
	Failed bool
	// MostEpisodes is for how many episodes pictures are made, 0 for any number. With more,
	// Side returns errNoRoom.
	MostEpisodes int
	again        bool           // this is the second reading
	strays       []held         // files in folders that are not logs, which are not reported
	stray        map[string]int // number of files that are not logs, by folder
	held         []held         // notes to be told once all logs are read
}

// New checks an order and reads the map. It opens no log, except to sort the logs of a
// folder by their starts.
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
			// If the log itself does not exist, that is the failure to report.
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

// passedOver reports the hidden files and backups in the given folders that are not read.
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
		l.Remark(arg, "hidden files and backups are skipped: "+strings.Join(names, ", ")+more+"; name one to read it")
	}
}

// Remark tells something about a place that is not a failure.
func (l *Logs) Remark(where, text string) {
	if !l.Terse {
		l.Tell(Note{Where: where, Text: text})
	}
}

// leftOut holds the note that a log cannot be read. It is not a failure if the file lies in
// a folder and is not a log: a folder may hold other things.
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

// nothing returns the error of a command that is left without logs. What was not reported
// of stray files is reported now.
func (l *Logs) nothing() error {
	l.held = append(l.held, l.strays...)
	l.tellHeld()
	l.tellStrange()
	return words.ErrTold
}

// tellStrange reports which of the given folders hold only files that are not logs.
func (l *Logs) tellStrange() {
	inputs := map[string]int{}
	for _, in := range l.Inputs {
		inputs[in.Folder]++
	}
	for _, folder := range l.Args {
		if n := l.stray[folder]; n == 0 || n < inputs[folder] {
			continue
		}
		delete(l.stray, folder) // the folder may have been given twice
		what := "holds no log that lull can read"
		if skipped := source.Skipped(folder); skipped != "" {
			what += "; skipped besides: " + skipped
		}
		l.Tell(Note{Err: &words.Failure{Where: folder, What: what, Hint: "name the folder that contains the logs"}})
	}
}
