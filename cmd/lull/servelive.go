package main

import (
	"context"
	"path/filepath"

	"lull/cmd/lull/internal/recording"
	"lull/cmd/lull/internal/serve"
	"lull/cmd/lull/internal/words"
	"lull/decode/sigmap"
)

// onPage is a recording that is shown on the page of lull serve, too.
type onPage struct {
	recorder *recording.Recorder
	live     *serve.Live
	mapText  []byte
	mapName  string
}

// startOnPage begins to record for lull serve.
func startOnPage(ctx context.Context, c *console, flags *serveFlags, quiet bool) (*onPage, error) {
	if flags.out == "-" {
		return nil, words.Misused("name a file, or leave -o out", "-o -: the page's address is written to standard output")
	}
	rate, err := parseBitrate(flags.bitrate)
	if err != nil {
		return nil, err
	}
	recorded, end := context.WithCancel(ctx)
	r, err := recording.Start(recorded, recording.Options{Sources: flags.interfaces, Output: flags.out, MapPath: flags.mapPath,
		Bitrate: rate, Quiet: quiet, Version: version(), Screen: c.screen()})
	if err != nil {
		end()
		return nil, err
	}
	p := &onPage{recorder: r}
	about := serve.About{Path: r.Path, Sources: flags.interfaces, Served: ctx, Recorded: recorded, End: end}
	if r.Map != nil {
		about.Vehicle = r.Map.Vehicle
		for i := range r.Map.Signals {
			about.Signals = append(about.Signals, r.Map.Signals[i].Name)
		}
		if p.mapText, err = sigmap.Read(r.MapPath); err != nil {
			end()
			r.Close()
			return nil, err
		}
		p.mapName = filepath.Base(r.MapPath)
	}
	p.live = serve.NewLive(about)
	r.Show(p.live)
	return p, nil
}

// abandon gives up a recording that was not run.
func (p *onPage) abandon() {
	p.live.End()
	p.recorder.Close()
}

// serve records while the server serves.
func (p *onPage) serve(server *serve.Server, c *console, quiet bool) error {
	return server.Beside(p.recorder.Run, func() {
		if !quiet {
			say(c.err, "the recording has ended; its page is served on until Ctrl-C")
		}
	})
}
