package words

import (
	"fmt"
	"strconv"
	"strings"

	"lull/analyze"
	"lull/analyze/census"
	"lull/decode"
	"lull/pkg/bounds"
	"lull/pkg/stats"
)

// Frames is what is on the bus by one or more logs.
type Frames struct {
	// Bitrate in bit/s that loads are a share of; 0 if it is not known.
	Bitrate float64
	// Several adds the name of the log to each row of CSV.
	Several bool
	Logs    []FramesLog
	// Only are the identifiers that are shown byte by byte; empty: all are listed.
	Only []WantedID
	// Against are the logs of the other side, and Differences what differs on it; nil:
	// there is no other side.
	Against     []FramesLog
	Differences *census.Differences
}

// WantedID is an identifier that was asked for.
type WantedID struct {
	ID uint32
	// Long: only the one of 29 bits. A short number may be of either length.
	Long bool
}

// Wants tells whether an identifier was asked for: all are where none was named.
func (r *Frames) Wants(x *census.ID) bool {
	for _, w := range r.Only {
		if w.ID == x.ID && (!w.Long || x.Extended) {
			return true
		}
	}
	return len(r.Only) == 0
}

// FramesLog is one log and what was counted in it.
type FramesLog struct {
	Name   string
	Result *census.Result
}

// AsLog returns the log as a Log, for what is said of every log.
func (l *FramesLog) AsLog() *Log {
	c := l.Result
	log := &Log{Name: l.Name, Result: &analyze.Result{Info: c.Info, Frames: c.Frames, HasTime: c.HasTime, Start: c.Start, Span: c.Span}}
	log.Result.Info.Interfaces = nil
	for _, b := range c.Buses {
		log.Result.Info.Interfaces = append(log.Result.Info.Interfaces, b.Name)
	}
	return log
}

// Load is the share of the bit rate that an interface's frames took; known is false
// where that is not known.
func (r *Frames) Load(c *census.Result, b census.Bus) (share float64, known bool) {
	if r.Bitrate <= 0 || !c.HasTime || c.Span <= 0 {
		return 0, false
	}
	share = float64(b.Bits) / (r.Bitrate * bounds.Seconds(c.Span))
	return share, stats.Finite(share)
}

// Summary is what stands out of a log.
func (r *Frames) Summary(c *census.Result) string {
	regular, silent, silences := 0, 0, 0
	flexible := map[string]bool{}
	for i := range c.IDs {
		x := &c.IDs[i]
		if x.Regular {
			regular++
		}
		if len(x.Silences) > 0 {
			silent++
		}
		silences += len(x.Silences)
		flexible[x.Bus] = flexible[x.Bus] || x.FD
	}
	s := []string{decode.Counted(int64(len(c.IDs)), "identifier", "identifiers")}
	if c.HasTime && len(c.IDs) > 0 {
		share := strconv.Itoa(regular)
		switch regular {
		case 0:
			share = "none"
		case len(c.IDs):
			share = "all"
		}
		s[0] += ", " + share + " of them sent at regular times"
	}
	s[0] += "."
	for _, b := range c.Buses {
		load, known := r.Load(c, b)
		if !known {
			continue
		}
		name := "The bus"
		if len(c.Buses) > 1 {
			name = Visible(b.Name)
		}
		most := ""
		if flexible[b.Name] {
			most = "at most " // the payload of an FD frame may have been sent faster
		}
		s = append(s, fmt.Sprintf("%s is busy for %s%s %% of the time at %s kbit/s.", name, most, Fixed(100*load, 1), Number(r.Bitrate/1000)))
		if load > 1 && most == "" {
			s = append(s, "More than 100 % cannot be: the bus is faster than that.")
		}
	}
	switch {
	case silences > 0:
		s = append(s, fmt.Sprintf("%s silent, %s in all.", decode.Counted(int64(silent), "identifier fell", "identifiers fell"), Times(silences)))
	case regular > 0:
		s = append(s, "None of these fell silent.")
	}
	if c.ErrorFrames > 0 {
		s = append(s, fmt.Sprintf("The interface reported %s.", decode.Counted(c.ErrorFrames, "error", "errors")))
	}
	if c.RemoteFrames > 0 {
		s = append(s, fmt.Sprintf("%s.", decode.Counted(c.RemoteFrames, "remote frame", "remote frames")))
	}
	return strings.Join(s, " ")
}
