package main

import (
	"fmt"
	"io"
	"time"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/words"
)

// progress shows on a terminal how far the reading of each log is, once it takes longer
// than a second.
type progress struct {
	w     io.Writer
	now   func() time.Time
	log   string // being read
	began time.Time
	last  time.Time // when the line was drawn; zero if it is not shown
}

const (
	patience = time.Second
	redraw   = 200 * time.Millisecond
)

func newProgress(w io.Writer) *progress { return &progress{w: w, now: time.Now} }

// show redraws the line if that is due, and removes it at the end.
func (p *progress) show(x measuring.Progress) {
	now := p.now()
	switch {
	case x.Again:
		return
	case x.Done:
		if !p.last.IsZero() {
			fmt.Fprint(p.w, "\r\x1b[K")
		}
		p.log, p.last = "", time.Time{}
		return
	case x.Log != p.log:
		p.log, p.began = x.Log, now
	}
	took := now.Sub(p.began)
	if took < patience || now.Sub(p.last) < redraw {
		return
	}
	p.last = now
	name, speed := words.Visible(x.Log), float64(x.Position)/1e6/took.Seconds()
	if x.Size > 0 {
		fmt.Fprintf(p.w, "\r\x1b[K%s: %d %%, %.0f MB/s", name, min(100*x.Position/x.Size, 100), speed)
		return
	}
	fmt.Fprintf(p.w, "\r\x1b[K%s: %d MB, %.0f MB/s", name, x.Position/1e6, speed)
}
