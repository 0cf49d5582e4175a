package document

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/analyze/census"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

type framesDocument struct {
	formatOnly
	Logs []framesLogJSON `json:"logs"`
	// Against is null unless two sides were held against each other.
	Against *againstJSON `json:"against"`
}

type framesLogJSON struct {
	Name          string            `json:"name"`
	Frames        int64             `json:"frames"`
	RejectedLines int64             `json:"rejected_lines"`
	ErrorFrames   int64             `json:"error_frames"`
	RemoteFrames  int64             `json:"remote_frames"`
	Start         *string           `json:"start"`
	Span          *float64          `json:"span"`
	Load          *float64          `json:"load"`
	Errors        []errorCountJSON  `json:"errors"`
	Gaps          []gapJSON         `json:"gaps"`
	IDs           []idJSON          `json:"ids"`
	Interfaces    []interfaceJSON   `json:"interfaces"`
	Remarks       []remarkJSON      `json:"remarks"`
	Answers       []frameAnswerJSON `json:"answers"`
}

type errorCountJSON struct {
	Text  string `json:"text"`
	Count int64  `json:"count"`
	Bus   string `json:"bus"`
}

type interfaceJSON struct {
	Bus    string   `json:"bus"`
	Frames int64    `json:"frames"`
	Load   *float64 `json:"load"`
	J1939  bool     `json:"j1939"`
}

type idJSON struct {
	Bus      string        `json:"bus"`
	ID       string        `json:"id"`
	Extended bool          `json:"extended"`
	FD       bool          `json:"fd"`
	Count    int64         `json:"count"`
	Remote   int64         `json:"remote"`
	Lengths  []int         `json:"lengths"`
	Period   *float64      `json:"period"`
	Jitter   *float64      `json:"jitter"`
	Changing []string      `json:"changing"`
	Silences []absenceJSON `json:"silences"`
	Name     *string       `json:"name"`
	PGN      *uint32       `json:"pgn"`
	Bytes    []byteJSON    `json:"bytes"`
}

type absenceJSON struct {
	Start    float64 `json:"start"`
	Duration float64 `json:"duration"`
}

// idKeys are the keys of idJSON, in its order.
var idKeys = []string{"bus", "id", "extended", "fd", "count", "remote", "lengths", "period", "jitter", "changing", "silences", "name"}

// WriteFramesJSON writes the whole document, indented.
func WriteFramesJSON(w io.Writer, r *words.Frames) error {
	return writeIndented(w, framesDocument{
		formatOnly: format, Logs: each(r.Logs, func(l words.FramesLog) framesLogJSON { return framesLog(r, l) }), Against: against(r),
	})
}

func framesLog(r *words.Frames, l words.FramesLog) framesLogJSON {
	c := l.Result
	base := l.AsLog().Result
	j := framesLogJSON{
		Name: l.Name, Frames: c.Frames, RejectedLines: c.Info.Rejected,
		ErrorFrames: c.ErrorFrames, RemoteFrames: c.RemoteFrames, Start: startText(base),
		Errors: each(c.Errors, func(e census.ErrorCount) errorCountJSON { return errorCountJSON{e.Text, e.Count, e.Bus} }),
		Gaps:   each(c.Gaps, func(g analyze.Gap) gapJSON { return gapJSON{bounds.Seconds(g.Start), bounds.Seconds(g.End)} }),
		IDs:    []idJSON{},
		Interfaces: each(c.Buses, func(b census.Bus) interfaceJSON {
			return interfaceJSON{b.Name, b.Frames, load(r, c, b), b.J1939}
		}),
		Remarks: each(c.Info.Remarks, func(m decode.Remark) remarkJSON { return remark(base, m) }),
		Answers: each(c.Answers, frameAnswer),
	}
	for i := range c.IDs {
		if r.Wants(&c.IDs[i]) {
			j.IDs = append(j.IDs, id(c, &c.IDs[i]))
		}
	}
	if c.HasTime {
		j.Span = number(bounds.Seconds(c.Span))
	}
	if b, ok := busiest(c); ok {
		j.Load = load(r, c, b)
	}
	return j
}

// load returns the share of the bit rate that an interface's frames took, nil if it is not
// known.
func load(r *words.Frames, c *census.Result, b census.Bus) *float64 {
	share, known := r.Load(c, b)
	if !known {
		return nil
	}
	return &share
}

// busiest returns the interface with the most bits.
func busiest(c *census.Result) (b census.Bus, ok bool) {
	for i, x := range c.Buses {
		if i == 0 || x.Bits > b.Bits {
			b = x
		}
	}
	return b, len(c.Buses) > 0
}

func id(c *census.Result, x *census.ID) idJSON {
	name := words.IDName(c, x)
	j := idJSON{
		Bus: x.Bus, ID: decode.FormatID(x.ID, x.Extended), Extended: x.Extended, FD: x.FD, Count: x.Count, Remote: x.Remote,
		Lengths:  each(x.Lengths, func(n int) int { return n }),
		Changing: each(x.Changing, bitPlace),
		Silences: each(x.Silences, func(s census.Silence) absenceJSON {
			return absenceJSON{bounds.Seconds(s.Start), bounds.Seconds(s.Duration)}
		}),
		Name: where(name, name != ""), PGN: groupOf(c, x), Bytes: bytesOf(x),
	}
	if x.HasPeriod {
		j.Period, j.Jitter = number(x.Period/1e9), number(x.Jitter/1e9)
	}
	return j
}

// bitPlace writes a bit number as byte:bit.
func bitPlace(bit int) string { return strconv.Itoa(bit/8) + ":" + strconv.Itoa(bit%8) }

// WriteFramesCSV writes one row for each identifier. Lists in a cell are separated by
// spaces; a silence is START+DURATION.
func WriteFramesCSV(w io.Writer, r *words.Frames) error {
	out := csv.NewWriter(w)
	var row []string
	begin := func(name string) {
		row = row[:0]
		if r.Several {
			row = append(row, name)
		}
	}
	begin("log")
	_ = out.Write(append(row, idKeys...)) // the writer keeps its first error
	for i := range r.Logs {
		c := r.Logs[i].Result
		for k := range c.IDs {
			j := id(c, &c.IDs[k])
			begin(text(r.Logs[i].Name))
			row = append(row, text(j.Bus), j.ID, strconv.FormatBool(j.Extended), strconv.FormatBool(j.FD),
				strconv.FormatInt(j.Count, 10), strconv.FormatInt(j.Remote, 10),
				strings.Join(each(j.Lengths, strconv.Itoa), " "), orEmpty(j.Period), orEmpty(j.Jitter),
				strings.Join(j.Changing, " "),
				strings.Join(each(j.Silences, func(s absenceJSON) string { return words.Shortest(s.Start) + "+" + words.Shortest(s.Duration) }), " "), known(j.Name))
			_ = out.Write(row)
		}
	}
	out.Flush()
	return out.Error()
}

func orEmpty(v *float64) string {
	if v == nil {
		return ""
	}
	return words.Shortest(*v)
}
