package recording

import (
	"context"
	"errors"
	"io"
	"os/signal"
	"syscall"
	"time"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/live"
)

// Options say what to record, and how.
type Options struct {
	Sources []string
	Output  string  // the log; "": a name made of date and time, -: standard output
	MapPath string  // "": map.yaml beside the log, if there is one
	Bus     string  // the interface that is decoded; "": any
	Bitrate float64 // bit/s of every bus; 0: as the interfaces are set
	Check   bool    // a broken limit is an error
	Quiet   bool    // do not show remarks on the recording itself
	// MarksPath is the file of what is marked by hand while recording; "": none, or with
	// MarksBeside one beside the log, made at the first mark.
	MarksPath   string
	MarksBeside bool
	Keys        Keys   // where it is marked, besides what Toggle and Read take
	Version     string // of lull
	Screen      Screen
}

// Screen is where a recording is shown to the person beside it.
type Screen struct {
	Out, Err io.Writer
	Drawn    bool // a block of lines on Err can be redrawn
	Style    table.Style
}

// Start opens the sources and the log. Call Run to record, or Close to abandon the
// recording.
func Start(ctx context.Context, o Options) (*Recorder, error) {
	signal.Ignore(syscall.SIGPIPE) // recording goes on if the reader of its output goes away
	sources, err := addresses(o.Sources)
	if err != nil {
		return nil, err
	}
	if err := checkMarks(o.MarksPath); err != nil {
		return nil, err
	}
	m, mapPath, err := findMap(o)
	if err != nil {
		return nil, err
	}
	if m == nil && o.Check {
		return nil, words.Misused("name one with --map", "--check: there is no map with limits")
	}
	path, file, err := createLog(o.Output, time.Now())
	if err != nil {
		return nil, err
	}
	o.MapPath = mapPath
	r := newRecorder(o, m, path, file)
	if err := r.startMarks(); err != nil {
		_ = file.Close() // nothing was written
		return nil, err
	}
	r.sources, r.receiver = sources, live.Listen(ctx, sources)
	return r, nil
}

// findMap reads the map that was named, the one beside the log, or the one in the working
// directory, and returns its path. The map is nil if there is none.
func findMap(o Options) (*decode.Map, string, error) {
	beside := o.Output
	if beside == "" || beside == "-" {
		beside = "drive.log"
	}
	m, path, err := measuring.LoadMap(o.MapPath, []string{beside})
	if errors.Is(err, measuring.ErrNoMap) {
		m, path, err = measuring.LoadMap("", []string{"drive.log"})
	}
	if errors.Is(err, measuring.ErrNoMap) {
		return nil, "", nil
	}
	if err != nil {
		return nil, "", err
	}
	return measuring.OnlyBus(m, o.Bus), path, nil
}
