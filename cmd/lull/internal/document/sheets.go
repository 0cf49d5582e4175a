package document

import (
	"strings"

	"github.com/xuri/excelize/v2"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/bounds"
)

const fromFirstFrame = ", from the log's first frame"

var trustColumn = sheetColumn{"trust", "", "whether the figures of this log can be believed: sound, doubtful, unusable", 12}

// answerRows are the answer, in plain words and in full, and what it is of.
func answerRows(b *workbook, r *words.Report) [][]any {
	var rows [][]any
	add := func(of, text string) {
		if text != "" {
			rows = append(rows, []any{excelize.Cell{StyleID: b.head, Value: of}, excelize.Cell{StyleID: b.prose, Value: text}})
		}
	}
	add("result", r.Status().Text)
	add("in plain words", strings.Join(r.Verdict(), " "))
	add("answer", r.Answer())
	add("driven", r.Driven())
	if r.Credence() != analyze.Unusable { // else that is the answer
		add("how sure", r.Sure())
	}
	add("map", words.Visible(r.Map.Name)+", sha256 "+r.Map.SHA256)
	add("lull", r.Version)
	add("caution", words.Caution)
	return rows
}

func episodeSheet() []sheetColumn {
	columns := []sheetColumn{
		{"log", "", "name of the log", 24}, {"n", "", "number of the episode in its log", 6},
		{"outcome", "", "how it ended", 16},
		{"stop date", "", "date of the stop onset by the log's clock; UTC where the stamps count from the epoch", 24},
		{"stop", "s", "stop onset" + fromFirstFrame, 0}, {"rest", "s", "the engine comes to rest" + fromFirstFrame, 0},
		{"request", "", "what asked for the restart", 20}, {"request_t", "s", "when it asked" + fromFirstFrame, 0},
		{"request_by", "", "driver or system", 0}, {"cranks", "", "times that the starter turned the engine", 0},
		{"running", "s", "the engine runs" + fromFirstFrame, 0},
	}
	for _, m := range measure.Metrics {
		columns = append(columns, sheetColumn{m.Key, m.Unit, m.Text + "; " + m.Window, 0},
			sheetColumn{m.Key + "_low", m.Unit, "the least that it can be", 0}, sheetColumn{m.Key + "_high", m.Unit, "the most that it can be", 0})
	}
	return append(columns, trustColumn)
}

func episodeRows(b *workbook, r *words.Report) [][]any {
	var rows [][]any
	for i := range r.Logs {
		l := &r.Logs[i]
		for k := range l.Result.Episodes {
			e := &l.Result.Episodes[k]
			row := []any{words.Visible(l.Name), e.N, words.Spoken(string(e.Outcome)), b.date(l.Result, e.Stop.T), bounds.Seconds(e.Stop.T), instantCell(e.Rest)}
			if e.Request != nil {
				q := &r.Map.Requests[e.Request.Condition]
				row = append(row, words.Visible(q.Name), bounds.Seconds(e.Request.T), q.By.String())
			} else {
				row = append(row, nil, nil, nil)
			}
			row = append(row, len(e.Cranks), instantCell(e.Running))
			for _, key := range decode.MetricKeys {
				if m, ok := words.MetricOf(e.Metrics, key); ok {
					row = append(row, cellNumber(m.Best), cellNumber(m.Low), cellNumber(m.High))
				} else {
					row = append(row, nil, nil, nil)
				}
			}
			rows = append(rows, append(row, string(l.Result.Trust.Credence)))
		}
	}
	return rows
}

func standstillSheet(r *words.Report) []sheetColumn {
	columns := []sheetColumn{
		{"log", "", "name of the log", 24}, {"n", "", "number of the standstill in its log", 6},
		{"start date", "", "date of its start by the log's clock; UTC where the stamps count from the epoch", 24},
		{"start", "s", "its start" + fromFirstFrame, 0}, {"end", "s", "its end" + fromFirstFrame, 0},
		{"opportunity", "", "whether the engine could have been stopped in it", 0}, {"stopped", "", "whether it was", 0},
		{"episode", "", "number of the episode that lies in it", 0}, {"stop_delay", "s", "from its start to the stop onset", 0},
		{"covered", "share", "of the time in which the engine could have been stopped, that in which something stood in the way", 0},
		{"reason", "", "what kept the engine running", 24}, {"unexplained", "", "nothing in the map explains that the engine ran on", 0},
		{"cannot_tell", "", "inhibits that cannot be told and could explain it", 24},
	}
	for i := range r.Map.Inhibits {
		columns = append(columns, sheetColumn{words.Visible(r.Map.Inhibits[i].Name), "share", "of that time, the share in which this inhibit was true", 16})
	}
	return append(columns, trustColumn)
}

func standstillRows(b *workbook, r *words.Report) [][]any {
	var rows [][]any
	for i := range r.Logs {
		l := &r.Logs[i]
		for k := range l.Result.Standstills {
			s := &l.Result.Standstills[k]
			row := []any{words.Visible(l.Name), s.N, b.date(l.Result, s.Start.T), bounds.Seconds(s.Start.T), bounds.Seconds(s.End.T), s.Opportunity, s.Stopped, nil, nil}
			if s.Episode != 0 {
				row[7] = s.Episode
			}
			if s.StopDelay != nil && s.StopDelay.Absent == nil {
				row[8] = cellNumber(s.StopDelay.Best)
			}
			row = append(row, cellNumber(s.Covered), words.Visible(s.Reason), s.Unexplained, words.Visible(strings.Join(s.CannotTell, "; ")))
			for n := range r.Map.Inhibits {
				var share any
				for _, h := range s.Inhibits {
					if h.Condition == n {
						share = cellNumber(h.Share)
					}
				}
				row = append(row, share)
			}
			rows = append(rows, append(row, string(l.Result.Trust.Credence)))
		}
	}
	return rows
}
