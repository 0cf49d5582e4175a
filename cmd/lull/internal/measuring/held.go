package measuring

import (
	"fmt"
	"strings"

	"lull/cmd/lull/internal/words"
	"lull/pkg/source"
)

// held is a note on a log, kept until all logs are read, so that what is true of several is
// said once.
type held struct {
	log string
	Note
	details []Note // left out if the note is of several logs
}

// hold keeps a remark on a log, at a place in it, for tellHeld.
func (l *Logs) hold(log, where, text string) {
	if !l.Terse {
		l.held = append(l.held, held{log: log, Note: Note{Where: where, Text: text}})
	}
}

// tellHeld tells what was held: each sentence once, in the order of first occurrence, with
// the logs it is about.
func (l *Logs) tellHeld() {
	groups := map[string][]held{}
	var order []string
	for _, h := range l.held {
		key := h.sentence()
		if groups[key] == nil {
			order = append(order, key)
		}
		groups[key] = append(groups[key], h)
	}
	l.held = nil
	for _, key := range order {
		group := groups[key]
		if severalLogs(group) {
			l.Tell(together(group))
			continue
		}
		for _, h := range group {
			l.Tell(h.Note)
			for _, d := range h.details {
				l.Tell(d)
			}
		}
	}
}

// sentence returns a key that is the same for notes which differ only in their place.
func (h *held) sentence() string {
	if h.Err == nil {
		return "remark: " + h.Text
	}
	if f, ok := failureOf(h.Err); ok {
		return "failure: " + general(f) + "; " + f.Hint
	}
	return "error: " + h.Err.Error()
}

// failureOf returns an error as a Failure, if that is all it is.
func failureOf(err error) (*words.Failure, bool) {
	switch e := err.(type) {
	case *words.Failure:
		return e, true
	case *source.Error:
		return &words.Failure{Where: e.Path, What: e.Why, Hint: e.Hint, Cause: e}, true
	}
	return nil, false
}

// general returns the part of a failure that others of its kind share: how many lines a
// file has does not matter if it is not a log.
func general(f *words.Failure) string {
	if f.NoLog {
		what, _, _ := strings.Cut(f.What, ": ")
		return what
	}
	return f.What
}

// severalLogs reports whether the notes are of more than one log.
func severalLogs(group []held) bool {
	for _, h := range group {
		if h.log != group[0].log {
			return true
		}
	}
	return false
}

// together returns one note in place of several that say the same of their logs.
func together(group []held) Note {
	const most = 3
	var places []string // the first of each log
	seen := map[string]bool{}
	for _, h := range group {
		if seen[h.log] {
			continue
		}
		seen[h.log] = true
		if f, ok := failureOf(h.Err); ok {
			h.Where = f.Where
		}
		places = append(places, h.Where)
	}
	kind := "logs"
	first, failed := failureOf(group[0].Err)
	if failed && first.NoLog {
		kind = "files"
	}
	where := fmt.Sprintf("%d %s (", len(places), kind)
	if len(places) > most {
		places = append(places[:most:most], "...")
	}
	where += strings.Join(places, ", ") + ")"
	if failed {
		one := *first
		one.Where, one.What, one.Hint = where, ofEach(general(first)), ofEach(first.Hint)
		return Note{Err: &one}
	}
	return Note{Where: where, Text: ofEach(group[0].Text)}
}

// ofEach turns a sentence on one log into one on each of several.
func ofEach(text string) string {
	return strings.NewReplacer("this log", "the log", "this is not a CAN log", "these are not CAN logs").Replace(text)
}
