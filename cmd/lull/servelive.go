package main

import (
	"context"
	"os"
	"path/filepath"
	"time"

	"lull/cmd/lull/internal/output"
	"lull/cmd/lull/internal/serve"
	"lull/decode/live"
)

// pageEvery is how often the page is shown how a recording stands.
const pageEvery = 250 * time.Millisecond

// pageAudience shows a recording on the page of lull serve.
type pageAudience struct {
	live *serve.Live
	last time.Time // that the state was shown
	r    *recorder
}

func (p *pageAudience) tell(n output.News) { p.live.Tell(n) }

func (p *pageAudience) look(now time.Time, state func() output.LiveState) {
	if now.Sub(p.last) >= pageEvery {
		p.last = now
		p.live.Show(state())
	}
}

func (p *pageAudience) close() {
	p.live.Show(p.r.state(p.r.now()))
	p.live.Ended(p.r.info.Accepted > 0)
}

// onPage is a recording that is shown on the page, too.
type onPage struct {
	recorder *recorder
	receiver *live.Receiver
	ctx      context.Context // ends with the recording's own end
	end      context.CancelFunc
	live     *serve.Live
	mapText  []byte
	mapName  string
}

// startOnPage begins to record for lull serve.
func startOnPage(ctx context.Context, c *console, flags *serveFlags, quiet bool) (*onPage, error) {
	if flags.out == "-" {
		return nil, misuse("name a file, or leave -o out", "-o -: the page's address is written to standard output")
	}
	record := &recordFlags{out: flags.out, mapPath: flags.mapPath, bitrate: flags.bitrate, quiet: quiet}
	p := &onPage{}
	p.ctx, p.end = context.WithCancel(ctx)
	var err error
	if p.recorder, p.receiver, err = startRecording(p.ctx, c, record, flags.interfaces); err != nil {
		p.end()
		return nil, err
	}
	r := p.recorder
	about := serve.About{Path: r.path, Sources: flags.interfaces, End: p.end}
	if r.m != nil {
		about.Vehicle = r.m.Vehicle
		for i := range r.m.Signals {
			about.Signals = append(about.Signals, r.m.Signals[i].Name)
		}
		if p.mapText, err = os.ReadFile(r.mapPath); err != nil {
			p.close()
			return nil, &failure{where: r.mapPath, what: plainError(err), hint: "check the path", cause: err}
		}
		p.mapName = filepath.Base(r.mapPath)
		about.Map, about.MapName = p.mapText, p.mapName
	}
	p.live = serve.NewLive(about)
	r.shown = append(r.shown, &pageAudience{live: p.live, r: r})
	return p, nil
}

// close gives up a recording that was not run.
func (p *onPage) close() {
	p.end()
	p.receiver.Close()
	_ = p.recorder.file.Close() // nothing was written
}

// serve records while the server serves, and serves on when the recording has ended,
// until the context ends. A recording that came to nothing ends the server: most
// likely its source was written wrong. A server that fails ends no recording.
func (p *onPage) serve(ctx context.Context, server *serve.Server) error {
	// The server outlives the recording, so that its last words are shown.
	serving, stop := context.WithCancel(context.WithoutCancel(ctx))
	defer stop()
	served := make(chan error, 1)
	go func() { served <- server.Run(serving) }()
	recorded := p.recorder.run(p.ctx, p.receiver)
	p.end()
	if recorded == nil || p.recorder.info.Accepted > 0 {
		if ctx.Err() == nil && !p.recorder.flags.quiet {
			say(p.recorder.c.err, "the recording has ended; its page is served on until Ctrl-C")
		}
		select {
		case <-ctx.Done():
		case err := <-served:
			served <- err
		}
	}
	stop()
	if err := <-served; err != nil && recorded == nil {
		return err
	}
	return recorded
}
