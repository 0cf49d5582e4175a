package document

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

// text makes a CSV cell of text from a map or log. A spreadsheet would run text as a
// formula if it begins with = + - @ (some of them also in full width), tab or CR, so an
// apostrophe is put before it. Characters that steer a terminal are written out; tabs and
// line ends stay, since CSV can hold them.
func text(s string) string {
	s = words.VisibleBut(s, "\t\r\n")
	if first, _ := utf8.DecodeRuneInString(s); strings.ContainsRune("=+-@＝＋－＠\t\r", first) {
		return "'" + s
	}
	return s
}

func seconds(ns int64) string { return words.Shortest(bounds.Seconds(ns)) }

// WriteCSV writes one row for each episode or standstill of all logs.
func WriteCSV(w io.Writer, r *words.Report, kind words.Kind) error {
	c := csv.NewWriter(w)
	if kind == words.Standstills {
		csvStandstills(c, r)
	} else {
		csvEpisodes(c, r)
	}
	c.Flush()
	return c.Error()
}

func csvEpisodes(c *csv.Writer, r *words.Report) {
	row := []string{"log", "n", "outcome", "stop", "rest", "request", "request_t", "request_by", "cranks", "running"}
	for _, key := range decode.MetricKeys {
		row = append(row, key, key+"_low", key+"_high")
	}
	row = append(row, "trust")
	_ = c.Write(row) // the writer keeps its first error; WriteCSV returns it
	for i := range r.Logs {
		l := &r.Logs[i]
		for k := range l.Result.Episodes {
			e := &l.Result.Episodes[k]
			row = append(row[:0], text(l.Name), strconv.Itoa(e.N), string(e.Outcome), seconds(e.Stop.T), optional(e.Rest))
			if e.Request != nil {
				q := &r.Map.Requests[e.Request.Condition]
				row = append(row, text(q.Name), seconds(e.Request.T), q.By.String())
			} else {
				row = append(row, "", "", "")
			}
			row = append(row, strconv.Itoa(len(e.Cranks)), optional(e.Running))
			for _, key := range decode.MetricKeys {
				m, ok := words.MetricOf(e.Metrics, key)
				if !ok {
					row = append(row, "", "", "")
					continue
				}
				row = append(row, words.Shortest(m.Best), words.Shortest(m.Low), words.Shortest(m.High))
			}
			row = append(row, string(l.Result.Trust.Credence))
			_ = c.Write(row)
		}
	}
}

func optional(i *bounds.Instant) string {
	if i == nil {
		return ""
	}
	return seconds(i.T)
}

func csvStandstills(c *csv.Writer, r *words.Report) {
	row := []string{
		"log", "n", "start", "end", "opportunity", "stopped", "episode", "stop_delay", "covered",
		"reason", "unexplained", "cannot_tell",
	}
	for i := range r.Map.Inhibits {
		row = append(row, text(r.Map.Inhibits[i].Name))
	}
	row = append(row, "trust")
	_ = c.Write(row)
	for i := range r.Logs {
		l := &r.Logs[i]
		for k := range l.Result.Standstills {
			s := &l.Result.Standstills[k]
			episode, delay := "", ""
			if s.Episode != 0 {
				episode = strconv.Itoa(s.Episode)
			}
			if s.StopDelay != nil && s.StopDelay.Absent == nil {
				delay = words.Shortest(s.StopDelay.Best)
			}
			row = append(row[:0], text(l.Name), strconv.Itoa(s.N), seconds(s.Start.T), seconds(s.End.T),
				strconv.FormatBool(s.Opportunity), strconv.FormatBool(s.Stopped), episode, delay,
				words.Shortest(s.Covered), text(s.Reason), strconv.FormatBool(s.Unexplained),
				text(strings.Join(s.CannotTell, "; ")))
			for n := range r.Map.Inhibits {
				share := ""
				for _, h := range s.Inhibits {
					if h.Condition == n {
						share = words.Shortest(h.Share)
					}
				}
				row = append(row, share)
			}
			row = append(row, string(l.Result.Trust.Credence))
			_ = c.Write(row)
		}
	}
}
