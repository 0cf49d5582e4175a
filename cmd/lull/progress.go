package main

import (
	"fmt"
	"io"
	"time"

	"lull/cmd/lull/internal/words"
)

// measured is what progress needs to know of the bytes being read.
type measured interface {
	Size() (int64, bool)
	Position() int64
}

// progress shows on a terminal how far the reading of one log has come, once it
// takes longer than a second. Elsewhere it shows nothing.
type progress struct {
	w         io.Writer
	name      string
	source    measured
	now       func() time.Time
	began     time.Time
	last      time.Time
	everShown bool
}

const (
	patience = time.Second
	redraw   = 200 * time.Millisecond
)

func newProgress(c *console, quiet bool, name string, source measured) *progress {
	p := &progress{name: words.Visible(name), source: source, now: time.Now}
	if c.errTerminal && !quiet {
		p.w = c.err
	}
	p.began = p.now()
	return p
}

// show draws the line anew where it is time to.
func (p *progress) show() {
	if p.w == nil {
		return
	}
	now := p.now()
	took := now.Sub(p.began)
	if took < patience || now.Sub(p.last) < redraw {
		return
	}
	p.last, p.everShown = now, true
	position := p.source.Position()
	speed := float64(position) / 1e6 / took.Seconds()
	if size, ok := p.source.Size(); ok && size > 0 {
		fmt.Fprintf(p.w, "\r\x1b[K%s: %d %%, %.0f MB/s", p.name, min(100*position/size, 100), speed)
		return
	}
	fmt.Fprintf(p.w, "\r\x1b[K%s: %d MB, %.0f MB/s", p.name, position/1e6, speed)
}

// clear takes the line away.
func (p *progress) clear() {
	if p.everShown {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
