package main

import (
	"context"
	"path/filepath"
	"time"

	"lull/cmd/lull/internal/serve"
	"lull/cmd/lull/internal/words"
	"lull/decode/live"
	"lull/decode/sigmap"
)

// pageEvery is how often the page is shown how a recording stands.
const pageEvery = 250 * time.Millisecond

// onPage is a recording that is shown on the page of lull serve, too. It is the
// audience that shows it there.
type onPage struct {
	recorder *recorder
	receiver *live.Receiver
	whole    context.Context // of the command
	ctx      context.Context // of the recording, which may be ended sooner
	end      context.CancelFunc
	live     *serve.Live
	last     time.Time // that the state was shown
	leaving  bool      // the server is to end with the recording
	mapText  []byte
	mapName  string
}

func (p *onPage) tell(n words.News) { p.live.Tell(n) }

func (p *onPage) look(now time.Time, state func() words.LiveState) {
	if now.Sub(p.last) >= pageEvery {
		p.last = now
		p.live.Show(state())
	}
}

// close shows how it ended. A recording that came to nothing by itself ends the
// server, too: most likely its source was written wrong.
func (p *onPage) close() {
	frames := p.recorder.info.Accepted > 0
	p.leaving = p.whole.Err() != nil || !frames && p.ctx.Err() == nil
	p.live.Show(p.recorder.state(p.recorder.now()))
	p.live.Ended(frames, p.leaving)
}

// startOnPage begins to record for lull serve.
func startOnPage(ctx context.Context, c *console, flags *serveFlags, quiet bool) (*onPage, error) {
	if flags.out == "-" {
		return nil, words.Misused("name a file, or leave -o out", "-o -: the page's address is written to standard output")
	}
	record := &recordFlags{out: flags.out, mapPath: flags.mapPath, bitrate: flags.bitrate, quiet: quiet}
	p := &onPage{whole: ctx}
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
		if p.mapText, err = sigmap.Read(r.mapPath); err != nil {
			p.abandon()
			return nil, err
		}
		p.mapName = filepath.Base(r.mapPath)
	}
	p.live = serve.NewLive(about)
	r.shown = append([]audience{p}, r.shown...) // first: a terminal may be slow to take its last lines
	return p, nil
}

// abandon gives up a recording that was not run.
func (p *onPage) abandon() {
	p.end()
	p.receiver.Close()
	_ = p.recorder.file.Close() // nothing was written
}

// serve records while the server serves, and serves on when the recording has ended,
// until the command does. A server that fails ends no recording.
func (p *onPage) serve(server *serve.Server) error {
	// The server outlives the recording, so that its last words are shown.
	serving, stop := context.WithCancel(context.WithoutCancel(p.whole))
	defer stop()
	served := make(chan error, 1)
	go func() { served <- server.Run(serving) }()
	recorded := p.recorder.run(p.ctx, p.receiver)
	p.end()
	if !p.leaving {
		if !p.recorder.flags.quiet {
			say(p.recorder.c.err, "the recording has ended; its page is served on until Ctrl-C")
		}
		select {
		case <-p.whole.Done():
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
