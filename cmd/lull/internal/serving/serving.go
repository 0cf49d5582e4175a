// Package serving does the work of lull serve: it gives the page's server what measures and
// compares drops, the drives of the demonstration and, where one is asked for, a recording.
// Start with Run.
package serving

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"syscall"

	"lull/analyze/scenario"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/recording"
	"lull/cmd/lull/internal/serve"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/source"
)

// Options say what is served, and how.
type Options struct {
	// Options are those of the recording, if Sources names any. Without one, MapPath
	// is the map for logs that are dropped without theirs.
	recording.Options
	Port    int     // 0: any that is free
	Largest float64 // GB that one drop may have
	Open    bool    // open the page in the browser
}

// memoryLimit is the soft limit of the heap, in bytes, while nothing is recorded.
const memoryLimit = 96 << 20

// Run serves the page until the context ends.
func Run(ctx context.Context, o Options) (err error) {
	if err := o.check(); err != nil {
		return err
	}
	if os.Getenv("GOMEMLIMIT") == "" && len(o.Sources) == 0 {
		// Pages and reports make much garbage in a moment; it is collected early rather
		// than let lull grow beside the browser. A recording may hold more for hours,
		// and collecting would then be all that is done.
		debug.SetMemoryLimit(memoryLimit)
	}
	work := serve.Work{Version: o.Version, Free: source.Free, Demo: demoDrives(),
		Remembered: measuring.Remembered, Remember: measuring.Remember,
		Measure: func(ctx context.Context, m *decode.Map, logs []source.Input, told func(part float64)) (*page.Side, []string, error) {
			return measuring.Drop(ctx, o.Version, measuring.PageRoom, m, logs, told)
		},
		Draft: func(ctx context.Context, logs []source.Input, before *measuring.Drafted, c measuring.Choices, told func(part float64)) (*measuring.Drafted, error) {
			return measuring.DraftDrop(ctx, o.Version, measuring.DraftRoom, logs, before, c, told)
		},
		Compare: func(before, after *words.Report, twoVehicles bool) (*words.CompareReport, error) {
			return measuring.Compared(before, after, measuring.How{TwoVehicles: twoVehicles})
		}}
	mapPath := o.MapPath
	var recorder *recording.Recorder
	begun := false
	if len(o.Sources) > 0 {
		o.MarksBeside = true
		recorded, end := context.WithCancel(ctx)
		defer end()
		if recorder, err = recording.Start(recorded, o.Options); err != nil {
			return err
		}
		defer func() {
			if !begun {
				recorder.Close()
			}
		}()
		work.Live = serve.NewLive(about(recorder, serve.About{Sources: o.Sources, Served: ctx, Recorded: recorded, End: end, Marker: recorder}))
		recorder.Show(work.Live)
		mapPath = recorder.MapPath
	}
	if mapPath != "" {
		text, err := sigmap.Read(mapPath)
		if err == nil {
			_, err = sigmap.Parse(mapPath, text)
		}
		if err != nil {
			return err
		}
		work.Map, work.MapName = text, filepath.Base(mapPath)
	}
	server, err := serve.New(work, serve.Options{Port: o.Port, Largest: max(int64(o.Largest*1e9), 1)})
	if err != nil {
		return notServed(err, o.Port)
	}
	defer func() {
		if closing := server.Close(); err == nil && closing != nil {
			err = &words.Failure{What: "what was dropped could not be removed: " + closing.Error(), Hint: "remove it by hand", Cause: closing}
		}
	}()
	if _, err := fmt.Fprintln(o.Screen.Out, server.URL()); err != nil {
		return &words.Failure{Where: "standard output", What: words.PlainError(err), Hint: "nobody would know the page's address", Cause: err}
	}
	if !o.Quiet {
		ends := "the server"
		if recorder != nil {
			ends = "the recording and the server"
		}
		fmt.Fprintf(o.Screen.Err, "Open this address in a browser on this machine; Ctrl-C ends %s and removes what was dropped.\n", ends)
	}
	if o.Open {
		if err := openBrowser(server.Invitation()); err != nil {
			o.say((&words.Failure{What: "no browser could be started: " + words.PlainError(err), Hint: "open the address yourself"}).Error())
		}
	}
	if recorder == nil {
		return server.Run(ctx)
	}
	begun = true
	return server.Beside(recorder.Run, func() {
		if !o.Quiet {
			o.say("the recording has ended; its page is served on until Ctrl-C")
		}
	})
}

func (o *Options) check() error {
	switch {
	case o.Port < 0 || o.Port > 65535:
		return words.Misused("ports are 0 to 65535", "--port %d: no such port", o.Port)
	case !(o.Largest > 0 && o.Largest <= 1e6):
		return words.Misused("give a number of GB, for instance 64", "--largest %v: no such size", o.Largest)
	case len(o.Sources) == 0 && (o.Output != "" || o.Bitrate != 0 || o.MarksPath != ""):
		return words.Misused("say what to record with --interface", "-o, --bitrate and --marks are those of a recording")
	case o.Output == source.Stdin:
		return words.Misused("name a file, or leave -o out", "-o -: the page's address is written to standard output")
	}
	return nil
}

func (o *Options) say(text string) { fmt.Fprintln(o.Screen.Err, words.Aside(text)) }

// about adds what a recording knows of itself.
func about(r *recording.Recorder, a serve.About) serve.About {
	a.Path, a.Marks = r.Path, r.MarksFile()
	if r.Map != nil {
		a.Vehicle = r.Map.Vehicle
		for i := range r.Map.Signals {
			a.Signals = append(a.Signals, r.Map.Signals[i].Name)
		}
	}
	return a
}

// notServed says why there is no page.
func notServed(err error, port int) error {
	var network *net.OpError
	if !errors.As(err, &network) {
		return &words.Failure{What: "the page cannot be served: " + words.PlainError(err), Hint: "check the folder for temporary files, TMPDIR", Cause: err}
	}
	f := &words.Failure{Where: fmt.Sprintf("port %d", port), What: words.PlainNetError(err), Hint: "leave --port out, and a free one is taken", Cause: err}
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		f.What = "another program listens on it"
	case errors.Is(err, syscall.EACCES):
		f.What = "it may not be opened by this user"
	}
	return f
}

// demoDrives are the logs of the demonstration, each with its map.
func demoDrives() []serve.Demo {
	drives := map[string]scenario.Drive{}
	for _, d := range scenario.Drives() {
		drives[d.Name] = d
	}
	var list []serve.Demo
	for _, f := range scenario.Files() {
		if d, ok := drives[f.Name]; ok {
			name := filepath.Base(d.Name)
			list = append(list, serve.Demo{Name: strings.TrimSuffix(name, ".log"), Title: d.Title, Log: f.Bytes, LogName: name,
				Map: func() []byte { return scenario.Map(d.Map) }, MapName: filepath.Base(d.Map)})
		}
	}
	return list
}
