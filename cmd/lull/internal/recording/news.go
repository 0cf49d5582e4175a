package recording

import (
	"fmt"
	"slices"
	"strings"

	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/live"
)

// tell shows a piece of news to every audience.
func (r *Recorder) tell(news words.News) {
	for _, a := range r.shown {
		a.Tell(news)
	}
}

// remark tells something about the recording, warn something to act on, and fail that the
// recording is not what it was meant to be.
func (r *Recorder) remark(format string, args ...any) {
	r.tell(words.News{Kind: words.NewsRemark, Text: fmt.Sprintf(format, args...)})
}

func (r *Recorder) warn(format string, args ...any) {
	r.tell(words.News{Kind: words.NewsWarning, Tone: words.Bad, Text: fmt.Sprintf(format, args...)})
}

func (r *Recorder) fail(text string) {
	r.failed = true
	r.tell(words.News{Kind: words.NewsFailure, Tone: words.Bad, Text: text})
}

// event tells what happened to a source.
func (r *Recorder) event(e *live.Event) {
	r.away = slices.DeleteFunc(r.away, func(text string) bool { return strings.HasPrefix(text, e.Source+" ") })
	switch e.Kind {
	case live.Connected:
		r.remark("%s: recording into %s%s", e.Source, r.name(), r.spaceText())
	case live.Waiting:
		r.away = append(r.away, e.Source+" is waited for")
		r.remark("%v", e.Err)
	case live.Lost:
		r.away = append(r.away, e.Source+" went away; it is waited for")
		r.remark("%s went away (%v); waiting for it to come back, Ctrl-C ends the recording", e.Source, e.Err)
	case live.Ended:
		r.remark("%s: the log is over", e.Source)
	case live.Failed:
		r.fail(e.Err.Error())
	case live.Dropped:
		r.info.Lines++
		r.info.Remarked++
		if r.dropped.Count == 0 {
			r.dropped.Line = r.info.Lines
		}
		r.dropped.Count += e.Count
		r.line = candump.AppendDropped(r.line, e.Source, e.Count, e.Total)
		r.warn("%s: %s before they could be read; close other programs", e.Source, decode.Counted(e.Count, "frame was lost", "frames were lost"))
	}
}

func (r *Recorder) name() string {
	if r.Path == "-" {
		return "standard output"
	}
	return r.Path
}
