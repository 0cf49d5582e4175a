package words

import (
	"lull/analyze"
	"lull/decode"
)

// Kind is which of the two results is asked for.
type Kind int

const (
	Episodes    Kind = iota // everything, episodes first
	Standstills             // the same without the episodes
)

// Report is what one command found: one map and the logs read by it.
type Report struct {
	Version string // of lull
	Map     *decode.Map
	Logs    []Log
}

// Log is one log and what was found in it.
type Log struct {
	Name   string
	SHA256 string // of the file as it lies on disk, lower-case hex
	Bytes  int64  // of the same
	Result *analyze.Result
}

// Caution stands below every result that a person reads.
const Caution = "A car with idle stop can start by itself: follow the maker's procedure."

// Tone is the meaning of a text beside the text itself.
type Tone string

// The tones, and none where a text is plain.
const (
	Good     Tone = "good"
	Doubtful Tone = "doubtful"
	Bad      Tone = "bad"
)

// Word is a text and what it means. Its tone is never the only thing that tells it: the
// text itself does.
type Word struct {
	Text string
	Tone Tone
}
