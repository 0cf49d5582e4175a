package measuring

import (
	"fmt"
	"slices"

	"lull/cmd/lull/internal/words"
	"lull/decode"
)

// Remarks holds what the reader of a result should know of a log.
func (l *Logs) Remarks(name string, info *decode.Info) {
	if l.Terse {
		return
	}
	for _, r := range info.Remarks {
		if r.Code == decode.RemarkRejectedLines && len(r.Places) > 1 {
			// Reasons are counted; the first lines are worth showing.
			note := held{log: name, Note: Note{Where: name, Text: r.Text}}
			for _, p := range r.Places {
				note.details = append(note.details, Note{Where: placeIn(name, p.Line, p.Column), Text: p.Why})
			}
			l.held = append(l.held, note)
			continue
		}
		where := placeIn(name, r.Line, 0)
		if len(r.Places) > 0 {
			where = placeIn(name, r.Places[0].Line, r.Places[0].Column)
		}
		l.hold(name, where, r.Text)
	}
	for _, bus := range l.missingBuses(info) {
		l.hold(name, name, fmt.Sprintf("no frame of the interface %s; this log has %s", bus, words.Interfaces(info)))
	}
}

// placeIn names a line of a log, and its column if there is one.
func placeIn(name string, line, column int64) string {
	switch {
	case line <= 0:
		return name
	case column <= 0:
		return fmt.Sprintf("%s:%d", name, line)
	}
	return fmt.Sprintf("%s:%d:%d", name, line, column)
}

// missingBuses lists the interfaces that the map or --bus names and the log lacks.
func (l *Logs) missingBuses(info *decode.Info) []string {
	var missing []string
	look := func(bus string) {
		if bus != "" && !slices.Contains(info.Interfaces, bus) && !slices.Contains(missing, bus) {
			missing = append(missing, bus)
		}
	}
	if l.Bus != "" {
		look(l.Bus)
		return missing
	}
	for i := range l.Map.Entries {
		look(l.Map.Entries[i].Bus)
	}
	return missing
}
