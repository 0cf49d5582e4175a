package recording

import (
	"fmt"
	"strings"
	"time"

	"github.com/mattn/go-runewidth"

	"lull/cmd/lull/internal/words"
)

const (
	blockEvery  = 200 * time.Millisecond
	statusEvery = 10 * time.Second
	// mostBlock bounds the lines of the block, for small terminals. Signals beyond it are
	// only counted.
	mostBlock = 20
)

// terminal shows a recording on the terminal: lines as they come, with a block below them
// that is redrawn or, if the terminal cannot do that, a status line from time to time.
type terminal struct {
	screen *screen
	quiet  bool
	drawn  bool // a block can be redrawn
	width  int
	last   time.Time // when the state was shown
}

func newTerminal(s Screen, quiet, logOut bool, now time.Time) *terminal {
	lines := s.Out
	if logOut {
		lines = s.Err
	}
	t := &terminal{screen: newScreen(lines, s.Err), quiet: quiet, drawn: s.Drawn, width: s.Style.Width}
	if !t.drawn {
		t.last = now
	}
	return t
}

func (t *terminal) Tell(n words.News) {
	switch n.Kind {
	case words.NewsEpisode, words.NewsStandstill:
		t.screen.line(n.Line())
	case words.NewsAttention, words.NewsNote:
		t.screen.line(string(n.Kind) + ": " + n.Line())
	case words.NewsFailure:
		t.screen.note(n.Line())
	default:
		if !t.quiet {
			t.screen.note(n.Line())
		}
	}
}

func (t *terminal) Look(now time.Time, state func() words.LiveState) {
	every := statusEvery
	if t.drawn {
		every = blockEvery
	}
	if t.quiet || now.Sub(t.last) < every {
		return
	}
	t.last = now
	s := state()
	if t.drawn {
		t.screen.draw(t.block(&s))
		return
	}
	t.screen.note(strings.Join(statusParts(&s), "; "))
}

func (t *terminal) Close(words.LiveState, bool) { t.screen.close() }

// statusParts describes the state of a recording in a few phrases.
func statusParts(s *words.LiveState) []string {
	var parts []string
	for i := range s.Buses {
		parts = append(parts, s.Buses[i].Line())
	}
	if len(parts) == 0 {
		parts = append(parts, "no frame yet")
	}
	if s.Car != "" {
		parts = append(parts, s.Car)
	}
	return append(parts, s.File)
}

// block returns the lines of the block: the state, and each signal's last value and age, in
// as many columns as fit.
func (t *terminal) block(s *words.LiveState) []string {
	width := max(20, t.width-1)
	var lines []string
	for _, text := range statusParts(s) {
		lines = append(lines, runewidth.Truncate(text, width, "..."))
	}
	below := marksLines(s.Marks, width)
	most := mostBlock - len(below)
	var cells []string
	column := 0
	for i := range s.Signals {
		cell := signalText(&s.Signals[i])
		cells = append(cells, cell)
		column = max(column, runewidth.StringWidth(cell)+2)
	}
	column = max(min(column, width), 1)
	perLine := max(1, width/column)
	for at := 0; at < len(cells); at += perLine {
		if len(lines) == most {
			lines[most-1] = fmt.Sprintf("... and %d signals more", len(cells)-at+perLine)
			break
		}
		var b strings.Builder
		for _, cell := range cells[at:min(at+perLine, len(cells))] {
			b.WriteString(runewidth.FillRight(runewidth.Truncate(cell, column, "..."), column))
		}
		lines = append(lines, runewidth.Truncate(strings.TrimRight(b.String(), " "), width, "..."))
	}
	return append(lines, below...)
}

// marksLines says which keys there are and what is marked.
func marksLines(m *words.LiveMarks, width int) []string {
	if m == nil || !m.Keys {
		return nil
	}
	now := m.Now()
	if m.Typing {
		now = "the dashboard shows: " + m.Typed + "_  (such as 50 km/h; Enter takes it, Esc does not)"
	}
	lines := wrapped("keys: "+words.MarkKeysText(), width)
	return append(lines, runewidth.Truncate(now, width, "..."))
}

// wrapped breaks a list at its commas into lines.
func wrapped(text string, width int) []string {
	var lines []string
	line := ""
	for _, part := range strings.SplitAfter(text, ", ") {
		if line != "" && runewidth.StringWidth(line+strings.TrimRight(part, " ")) > width {
			lines = append(lines, strings.TrimRight(line, " "))
			line = ""
		}
		line += part
	}
	return append(lines, runewidth.Truncate(line, width, "..."))
}

// signalText returns a signal's name, value and age.
func signalText(s *words.LiveSignal) string {
	text := s.Name + " " + s.Value
	if s.Age != "" {
		text += " (" + s.Age + ")"
	}
	return text
}
