package words

import (
	"fmt"
	"strings"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/units"
)

// NewsKind is what a News is about.
type NewsKind string

// What is found in the drive, and what is to be said of the recording itself.
const (
	NewsEpisode    NewsKind = "episode"
	NewsStandstill NewsKind = "standstill"
	NewsAttention  NewsKind = "attention" // a finding of that severity
	NewsNote       NewsKind = "note"      // a finding of that one
	NewsWarning    NewsKind = "warning"   // something is to be done about the recording
	NewsRemark     NewsKind = "remark"
	NewsFailure    NewsKind = "failure" // the recording is not what it was meant to be
)

// News is a line for the person who watches a recording, shown once. Its text is
// harmless to a terminal; for HTML it is to be escaped.
type News struct {
	Kind NewsKind `json:"kind"`
	Tone Tone     `json:"tone"`
	Head string   `json:"head"` // what it is; Text tells more of it, and either may be ""
	Text string   `json:"text"`
}

// Line is the news in one line.
func (n *News) Line() string {
	if n.Head == "" || n.Text == "" {
		return n.Head + n.Text
	}
	return n.Head + ", " + n.Text
}

// EpisodeNews says what an episode was.
func (r *Report) EpisodeNews(e *analyze.Episode) News {
	n := News{Kind: NewsEpisode, Head: fmt.Sprintf("episode %d at %s s: %s", e.N, Moment(e.Stop.Instant), OutcomeWord(e).Text)}
	var parts []string
	if e.Request != nil {
		parts = append(parts, "request: "+Visible(r.Map.Requests[e.Request.Condition].Name))
	}
	if latency := WithBounds(e.Metrics, "restart_latency"); latency != "-" {
		parts = append(parts, "restart "+latency+" s")
	}
	if lowest := Figure(e.Metrics, "voltage_min"); lowest != "-" {
		parts = append(parts, "lowest "+lowest+" V")
	}
	verdict := r.VerdictWord(e)
	if verdict.Text != "-" {
		parts = append(parts, "limits: "+verdict.Text)
	}
	n.Text, n.Tone = strings.Join(parts, ", "), verdict.Tone
	if outcome := OutcomeWord(e); outcome.Tone == Bad {
		n.Tone = Bad
	}
	return n
}

// StandstillNews says whether the engine was stopped in a standstill, else why not.
// found holds what else is known of the drive.
func (r *Report) StandstillNews(found *analyze.Result, s *analyze.Standstill) News {
	n := News{Kind: NewsStandstill}
	var refused bool
	if n.Text, refused = r.refusal(found, s); refused {
		return n
	}
	n.Text = StandstillName(s) + ": "
	switch word := r.StoppedWord(s).Text; {
	case s.Stopped && s.Episode != 0:
		n.Text += fmt.Sprintf("engine stopped in episode %d", s.Episode)
	case s.Stopped:
		n.Text += "engine stopped"
	case s.Open:
		n.Text += "not recorded to its end"
	default:
		n.Text += word
	}
	if s.Stopped && s.StopDelay != nil && s.StopDelay.Absent == nil {
		n.Text += " after " + units.Round(s.StopDelay.Best, s.StopDelay.Low, s.StopDelay.High) + " s"
	}
	return n
}

// DoubtNews says that what is told of a drive cannot be used.
func DoubtNews(d *analyze.Doubt) News {
	return News{Kind: NewsAttention, Tone: Bad, Text: "do not use these figures: " + Visible(DoubtText(d))}
}

// FindingNews is a finding.
func FindingNews(f *analyze.Finding) News {
	text := Visible(FindingText(f))
	if f.Severity == analyze.Attention {
		return News{Kind: NewsAttention, Tone: Bad, Text: text}
	}
	return News{Kind: NewsNote, Text: text}
}

// LiveState is how a recording stands, in words: what is shown of it again and
// again. Its texts are as harmless as those of News.
type LiveState struct {
	Buses  []LiveBus `json:"buses"`
	Silent string    `json:"silent"` // "no frame for 5.3 s"; "" where they come
	Car    string    `json:"car"`    // what it does; "" where there is no map
	// Lacks tells what the recording lacks now: sources that are waited for, frames.
	Lacks   []string     `json:"lacks"`
	Signals []LiveSignal `json:"signals"` // by their index in the map
	File    string       `json:"file"`    // what is recorded and what there is room for
	// Marks is what was marked by hand; nil where nothing can be.
	Marks *LiveMarks `json:"marks,omitempty"`
	// How many were told so far.
	Episodes    int `json:"episodes"`
	Standstills int `json:"standstills"`
	Attention   int `json:"attention"` // findings that need it
}

// LiveBus is what one interface gives.
type LiveBus struct {
	Name   string `json:"name"`
	Rate   string `json:"rate"`   // "205 frames/s"
	Load   string `json:"load"`   // "load 31 %"; "" where its bit rate is not known
	Errors string `json:"errors"` // "3 error frames"; "" where none came
}

// Line is all of it in one line.
func (b *LiveBus) Line() string {
	text := b.Name + ": " + b.Rate
	for _, more := range []string{b.Load, b.Errors} {
		if more != "" {
			text += ", " + more
		}
	}
	return text
}

// NotSeen is the value of a signal that did not come yet.
const NotSeen = "not seen yet"

// LiveSignal is what a mapped signal said last.
type LiveSignal struct {
	Name  string `json:"-"`
	Value string `json:"value"` // NotSeen where it did not come
	Age   string `json:"age"`   // "0.1 s"; "" where it did not come
}

// Headline says in one sentence how a recording stands.
func (s *LiveState) Headline() string {
	var parts []string
	switch {
	case s.Silent != "" && s.Car != "":
		parts = append(parts, s.Silent, "before that: "+s.Car)
	case s.Silent != "":
		parts = append(parts, s.Silent)
	case len(s.Buses) == 0:
		parts = append(parts, "no frame yet")
	case s.Car != "":
		parts = append(parts, s.Car)
	default:
		parts = append(parts, "frames are recorded; without a map nothing more can be said of them")
	}
	if s.Car != "" {
		parts = append(parts, fmt.Sprintf("%s and %s so far", decode.Counted(int64(s.Episodes), "episode", "episodes"), decode.Counted(int64(s.Standstills), "standstill", "standstills")))
	}
	text := strings.Join(parts, "; ")
	return strings.ToUpper(text[:1]) + text[1:] + "."
}

// CarText says what engine and vehicle do.
func CarText(s analyze.Status) string {
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

// ValueText writes a decoded value as a person reads it: its label, or number and
// unit; "not valid" where the sample is none.
func ValueText(s *decode.Signal, sample *decode.Sample) string {
	switch {
	case !sample.Valid:
		return "not valid"
	case len(s.Labels) > 0:
		if label := s.LabelOf(sample.Raw); label != "" {
			return Visible(label)
		}
	}
	return strings.TrimSpace(Number(sample.Value) + " " + Visible(s.Unit))
}
