package recording

import (
	"fmt"
	"io"
	"strings"
	"sync"

	"lull/cmd/lull/internal/words"
)

// screen shows lines that stay and, on a terminal, a block below them that is redrawn. It
// never holds up its caller: if the terminal accepts nothing, only the lines beyond
// mostLines are lost.
type screen struct {
	lines io.Writer // results
	notes io.Writer // everything else, and the block

	mutex  sync.Mutex
	queue  []shown
	block  []string
	fresh  bool // block has not been drawn yet
	lost   int
	wake   chan struct{}
	ended  bool
	done   chan struct{}
	height int // lines of the block on the terminal
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

// line shows a line of the result; note shows one on standard error.
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

// draw replaces the block.
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

// close removes the block and waits until all lines are shown.
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

// erase removes the block: the cursor moves up to its first line, and everything below is
// cleared.
func (s *screen) erase() {
	s.mutex.Lock()
	height := s.height
	s.height = 0
	s.mutex.Unlock()
	if height > 0 {
		fmt.Fprintf(s.notes, "\x1b[%dA\r\x1b[J", height)
	}
}
