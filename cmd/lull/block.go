package main

import (
	"fmt"
	"strings"
	"time"

	"github.com/mattn/go-runewidth"

	"lull/analyze"
	"lull/cmd/lull/internal/output"
	"lull/pkg/bounds"
)

// mostBlock is how many lines the block of a small terminal may have: signals
// beyond it are counted.
const mostBlock = 20

// status says in a few phrases what is on the bus and what the car does.
func (r *recorder) status(now time.Time) []string {
	var parts []string
	for _, b := range r.watch.Buses() {
		rate, load := b.PerSecond, b.Load
		if r.watch.Silent(now) > 2*time.Second {
			rate, load = 0, 0
		}
		text := fmt.Sprintf("%s: %d frames/s", output.Visible(b.Name), rate)
		if b.Bitrate > 0 {
			text += fmt.Sprintf(", load %.0f %%", 100*load)
		}
		if b.Errors > 0 {
			text += fmt.Sprintf(", %d error frames", b.Errors)
		}
		parts = append(parts, text)
	}
	if len(parts) == 0 {
		parts = append(parts, "no frame yet")
	}
	if r.episodes != nil {
		parts = append(parts, carText(r.episodes.Status()))
	}
	return append(parts, fmt.Sprintf("%s recorded%s", bytesText(r.info.Bytes), r.freeText()))
}

func (r *recorder) freeText() string {
	if r.folder == "" || r.room == 0 {
		return ""
	}
	return ", " + bytesText(r.room) + " free"
}

// carText says what engine and vehicle do.
func carText(s analyze.Status) string {
	engine := map[analyze.Truth]string{analyze.True: "engine running", analyze.False: "engine not running", analyze.Unknown: "engine speed not seen yet"}[s.Engine]
	if s.Stop != nil {
		engine = fmt.Sprintf("engine told to stop %.1f s ago", bounds.Seconds(s.Now-s.Stop.T))
		if s.Rests {
			engine = fmt.Sprintf("engine stopped for %.1f s", bounds.Seconds(s.Now-s.Stop.T))
		}
	}
	switch {
	case s.Standing != nil:
		return engine + fmt.Sprintf(", standing for %.1f s", bounds.Seconds(s.Now-s.Standing.T))
	case s.Stands == analyze.False:
		return engine + ", moving"
	}
	return engine
}

// block is what is drawn anew on a terminal: the state, and each signal's last value
// and age, in as many columns as there is room for.
func (r *recorder) block(now time.Time) []string {
	width := max(20, r.c.width-1)
	var lines []string
	for _, text := range r.status(now) {
		lines = append(lines, runewidth.Truncate(text, width, "..."))
	}
	if r.m == nil {
		return lines
	}
	var cells []string
	column := 0
	for i := range r.watch.Signals() {
		cell := r.signalText(i, now)
		cells = append(cells, cell)
		column = max(column, runewidth.StringWidth(cell)+2)
	}
	column = max(min(column, width), 1)
	perLine := max(1, width/column)
	for at := 0; at < len(cells); at += perLine {
		if len(lines) == mostBlock {
			lines[mostBlock-1] = fmt.Sprintf("... and %d signals more", len(cells)-at+perLine)
			break
		}
		var b strings.Builder
		for _, cell := range cells[at:min(at+perLine, len(cells))] {
			b.WriteString(runewidth.FillRight(runewidth.Truncate(cell, column, "..."), column))
		}
		lines = append(lines, runewidth.Truncate(strings.TrimRight(b.String(), " "), width, "..."))
	}
	return lines
}

// signalText is one signal's name, value and age.
func (r *recorder) signalText(i int, now time.Time) string {
	signal, seen := &r.m.Signals[i], &r.watch.Signals()[i]
	if !seen.Seen {
		return output.Visible(signal.Name) + " not seen yet"
	}
	return fmt.Sprintf("%s %s (%.1f s)", output.Visible(signal.Name), output.ValueText(signal, &seen.Sample), r.watch.Age(seen, now).Seconds())
}
