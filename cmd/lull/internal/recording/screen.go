package recording

import (
	"fmt"
	"io"
	"strings"
	"sync"

	"lull/cmd/lull/internal/words"
)

// screen shows what happens: lines that stay, and on a terminal below them a block
// that is drawn anew. Its writing never holds up who calls it: a terminal that does
// not take anything costs nothing but the lines beyond mostLines.
type screen struct {
	lines io.Writer // what stays and was asked for
	notes io.Writer // what is said besides, and the block

	mutex  sync.Mutex
	queue  []shown
	block  []string
	fresh  bool // block was not drawn yet
	lost   int
	wake   chan struct{}
	ended  bool
	done   chan struct{}
	height int // of the block as it is drawn
}

type shown struct {
	text string
	note bool
}

const mostLines = 10000

func newScreen(lines, notes io.Writer) *screen {
	s := &screen{lines: lines, notes: notes, wake: make(chan struct{}, 1), done: make(chan struct{})}
	go s.serve()
	return s
}

// line shows a line that was asked for; note one on standard error.
func (s *screen) line(text string) { s.add(shown{text, false}) }
func (s *screen) note(text string) { s.add(shown{text, true}) }

func (s *screen) add(x shown) {
	s.mutex.Lock()
	if len(s.queue) < mostLines {
		s.queue = append(s.queue, x)
	} else {
		s.lost++
	}
	s.mutex.Unlock()
	s.poke()
}

// draw shows the block in the place of the one before.
func (s *screen) draw(block []string) {
	s.mutex.Lock()
	s.block, s.fresh = block, true
	s.mutex.Unlock()
	s.poke()
}

func (s *screen) poke() {
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// close takes the block away and waits until all lines are shown.
func (s *screen) close() {
	s.mutex.Lock()
	s.ended, s.block, s.fresh = true, nil, s.height > 0 || s.fresh
	s.mutex.Unlock()
	s.poke()
	<-s.done
}

func (s *screen) serve() {
	defer close(s.done)
	for range s.wake {
		s.mutex.Lock()
		queue, block, fresh, lost, ended := s.queue, s.block, s.fresh, s.lost, s.ended
		s.queue, s.fresh, s.lost = nil, false, 0
		s.mutex.Unlock()
		if len(queue) > 0 || fresh {
			s.erase()
		}
		for _, x := range queue {
			if x.note {
				fmt.Fprintln(s.notes, words.Aside(x.text))
				continue
			}
			fmt.Fprintln(s.lines, x.text)
		}
		if lost > 0 {
			fmt.Fprintln(s.notes, words.Aside(fmt.Sprintf("%d lines could not be shown in time; the summary has them", lost)))
		}
		if len(block) > 0 && (len(queue) > 0 || fresh) {
			fmt.Fprint(s.notes, strings.Join(block, "\n")+"\n")
			s.mutex.Lock()
			s.height = len(block)
			s.mutex.Unlock()
		}
		if ended {
			return
		}
	}
}

// erase takes the block away: up to its first line, then clear all below.
func (s *screen) erase() {
	s.mutex.Lock()
	height := s.height
	s.height = 0
	s.mutex.Unlock()
	if height > 0 {
		fmt.Fprintf(s.notes, "\x1b[%dA\r\x1b[J", height)
	}
}
