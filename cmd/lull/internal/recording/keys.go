package recording

import (
	"bufio"
	"context"
	"io"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"lull/cmd/lull/internal/words"
)

// Keys is where a person marks: keys of a terminal, or lines.
type Keys struct {
	In io.Reader // nil: nowhere
	// Single has the terminal give each key as it is pressed, without showing it, until
	// restore is called. It is nil where In is no terminal.
	Single func() (restore func(), err error)
}

// keyboard makes marks of what is pressed or written.
type keyboard struct {
	marks     *marker
	now       func() time.Time
	say, warn func(text string)

	mutex  sync.Mutex
	typing bool // what the dashboard shows
	typed  string
	begun  time.Time // when typing began, which is when it was shown
}

// press takes the bytes that the terminal gave at once.
func (k *keyboard) press(keys []byte) {
	k.mutex.Lock()
	defer k.mutex.Unlock()
	at := k.now()
	for len(keys) > 0 {
		r, n := utf8.DecodeRune(keys)
		keys = keys[n:]
		switch {
		case r == 0x1b: // alone, or the first byte of what an arrow or a function key gives
			k.typing = false
			return
		case k.typing:
			k.typeOne(r)
		case r == words.ReadingKey || r == words.ReadingKey-'a'+'A':
			k.typing, k.typed, k.begun = true, "", at
		default:
			if key, ok := words.FindMark(strings.ToLower(string(r))); ok {
				k.told(k.marks.toggle(key.Name, at))
			}
		}
	}
}

// typeOne takes a character of what the dashboard shows.
func (k *keyboard) typeOne(r rune) {
	switch {
	case r == '\r' || r == '\n':
		k.typing = false
		if strings.TrimSpace(k.typed) != "" {
			k.told(k.marks.read(k.typed, k.begun))
		}
	case r == 0x7f || r == '\b':
		_, n := utf8.DecodeLastRuneInString(k.typed)
		k.typed = k.typed[:len(k.typed)-n]
	case r == 'U'-'@': // Ctrl-U
		k.typed = ""
	case r >= ' ' && r != utf8.RuneError && len(k.typed) < 40:
		k.typed += string(r)
	}
}

// line takes a line: a key or the name of a mark, or d and what the dashboard shows.
func (k *keyboard) line(text string) {
	at := k.now()
	word, rest, _ := strings.Cut(strings.TrimSpace(text), " ")
	key, ok := words.FindMark(word)
	switch {
	case word == "":
	case word == string(words.ReadingKey):
		k.told(k.marks.read(rest, at))
	case ok && rest == "":
		k.told(k.marks.toggle(key.Name, at))
	default:
		k.warn("not marked: " + strings.TrimSpace(text) + "; known are " + words.MarkKeysText() + " (d 50 km/h)")
	}
}

func (k *keyboard) told(text string, err error) {
	if err != nil {
		k.warn(err.Error())
		return
	}
	k.say("marked: " + text)
}

// show adds to what is marked what is typed.
func (k *keyboard) show(s *words.LiveMarks) {
	k.mutex.Lock()
	defer k.mutex.Unlock()
	s.Keys, s.Typing, s.Typed = true, k.typing, words.Visible(k.typed)
}

// listen begins to take marks from the keys, until stop is called or the context ends.
func (r *Recorder) listen(ctx context.Context) (stop func(), err error) {
	if r.marks == nil || r.Keys.In == nil {
		return func() {}, nil
	}
	ctx, cancel := context.WithCancel(ctx)
	k := &keyboard{marks: r.marks, now: r.now,
		say:  func(text string) { r.remark("%s", text) },
		warn: func(text string) { r.warn("%s", text) },
	}
	if r.Keys.Single == nil {
		r.remark("%s; marks are taken from lines of standard input: %s (d 50 km/h)", r.marksText(), words.MarkKeysText())
		go k.lines(ctx, r.Keys.In)
		return cancel, nil
	}
	restore, err := r.Keys.Single()
	if err != nil {
		cancel()
		return nil, &words.Failure{Where: "standard input", What: "keys cannot be read: " + words.PlainError(err), Hint: "keep lull in the foreground, or give marks as lines through a pipe", Cause: err}
	}
	// As soon as the recording is to end, as a second Ctrl-C ends the process at once.
	restored := make(chan struct{})
	context.AfterFunc(ctx, func() { restore(); close(restored) })
	r.remark("%s; press a key when it begins and again when it ends: %s", r.marksText(), words.MarkKeysText())
	r.keyboard = k
	go k.keys(ctx, r.Keys.In)
	return func() { cancel(); <-restored }, nil
}

// keys reads the keys of a terminal.
func (k *keyboard) keys(ctx context.Context, in io.Reader) {
	buffer := make([]byte, 256)
	for {
		n, err := in.Read(buffer)
		if ctx.Err() != nil {
			return
		}
		k.press(buffer[:n])
		if err != nil {
			k.warn("the terminal gives no more keys; nothing can be marked any more")
			return
		}
	}
}

// lines reads the lines of a pipe or a file.
func (k *keyboard) lines(ctx context.Context, in io.Reader) {
	lines := bufio.NewScanner(in)
	read := false
	for lines.Scan() {
		if ctx.Err() != nil {
			return
		}
		read = true
		k.line(lines.Text())
	}
	if ctx.Err() == nil && lines.Err() != nil {
		k.warn("standard input cannot be read on (" + words.PlainError(lines.Err()) + "); nothing can be marked any more")
		return
	}
	if ctx.Err() == nil && !read {
		k.warn("standard input has no lines, so nothing is marked; start lull on a terminal, or give lines through a pipe")
	}
}
