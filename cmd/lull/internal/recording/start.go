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

// Options are what is recorded, and how.
type Options struct {
	Sources []string
	Output  string  // the log; "": a name of date and time, -: standard output
	MapPath string  // "": map.yaml beside the log, if there is one
	Bus     string  // the interface that is decoded; "": any
	Bitrate float64 // bit/s of every bus; 0: as the interfaces are set
	Check   bool    // a broken limit is an error
	Quiet   bool    // what is said of the recording itself is not shown
	Version string  // of lull
	Screen  Screen
}

// Screen is where a recording is shown to who sits beside it.
type Screen struct {
	Out, Err io.Writer
	Drawn    bool // a block of lines on Err can be drawn anew
	Style    table.Style
}

// Start opens what is recorded and what is recorded into. Run records, or Close gives it
// up.
func Start(ctx context.Context, o Options) (*Recorder, error) {
	signal.Ignore(syscall.SIGPIPE) // it goes on where who reads what is shown goes away
	sources, err := addresses(o.Sources)
	if err != nil {
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
	r.sources, r.receiver = sources, live.Listen(ctx, sources)
	return r, nil
}

// findMap reads the map that was named, the one beside the log, or the one in the
// folder that lull runs in, and says where it lies; nil where there is none.
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
