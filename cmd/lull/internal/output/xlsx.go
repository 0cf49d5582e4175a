package output

import (
	"archive/zip"
	"bytes"
	"cmp"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"lull/analyze"
	"lull/analyze/measure"
	"lull/decode"
	"lull/pkg/bounds"
)

// workbook is a spreadsheet in the making. Its first error stays and is returned
// at the end.
type workbook struct {
	file         *excelize.File
	head, moment int // styles
	err          error
}

// WriteXLSX writes a workbook: one row for each episode or standstill, with numbers
// as numbers and dates as dates, units in the header, which stays in sight, and a
// sheet that says what each column is. Text is never a formula.
func (r *Report) WriteXLSX(w io.Writer, kind Kind) error {
	b := &workbook{file: excelize.NewFile()}
	defer b.file.Close()
	b.head = b.style(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"},
		Border: []excelize.Border{{Type: "bottom", Color: "808080", Style: 1}}})
	dates := "yyyy-mm-dd hh:mm:ss.000"
	b.moment = b.style(&excelize.Style{CustomNumFmt: &dates})
	// The same logs give the same bytes: no time of making.
	b.keep(b.file.SetDocProps(&excelize.DocProperties{Creator: "lull", Created: "2000-01-01T00:00:00Z", Modified: "2000-01-01T00:00:00Z"}))
	name, columns, rows := "episodes", r.episodeSheet(), r.episodeRows
	if kind == Standstills {
		name, columns, rows = "standstills", r.standstillSheet(), r.standstillRows
	}
	b.sheet(name, columns, 2, rows(b))
	var definitions [][]any
	for _, c := range columns {
		definitions = append(definitions, []any{c.title(), c.text})
	}
	definitions = append(definitions, []any{"map", Visible(r.Map.Name) + ", sha256 " + r.Map.SHA256}, []any{"lull", r.Version}, []any{"caution", Caution})
	b.sheet("definitions", []sheetColumn{{name: "column", width: 34}, {name: "what it is", width: 110}}, 0, definitions)
	if b.err == nil {
		b.err = b.file.DeleteSheet("Sheet1")
	}
	b.write(w)
	return b.err
}

// write packs the workbook with its parts in the order of their names, which is the
// same each time: excelize takes them from a Go map. [Content_Types].xml comes first
// in that order, as usual. The parts carry no times.
func (b *workbook) write(w io.Writer) {
	if b.err != nil {
		return
	}
	packed, err := b.file.WriteToBuffer()
	if b.keep(err); err != nil {
		return
	}
	from, err := zip.NewReader(bytes.NewReader(packed.Bytes()), int64(packed.Len()))
	if b.keep(err); err != nil {
		return
	}
	slices.SortFunc(from.File, func(p, q *zip.File) int { return cmp.Compare(p.Name, q.Name) })
	to := zip.NewWriter(w)
	for _, part := range from.File {
		b.keep(to.Copy(part))
	}
	b.keep(to.Close())
}

func (b *workbook) style(s *excelize.Style) int {
	id, err := b.file.NewStyle(s)
	b.keep(err)
	return id
}

func (b *workbook) keep(err error) {
	if b.err == nil {
		b.err = err
	}
}

// sheetColumn is one column of a sheet and what it is.
type sheetColumn struct {
	name, unit, text string
	width            float64
}

func (c sheetColumn) title() string {
	if c.unit == "" {
		return c.name
	}
	return c.name + " (" + c.unit + ")"
}

// sheet adds a sheet whose header, and the first columns with it, stay in sight.
func (b *workbook) sheet(name string, columns []sheetColumn, fixedColumns int, rows [][]any) {
	if b.err != nil {
		return
	}
	_, err := b.file.NewSheet(name)
	b.keep(err)
	s, err := b.file.NewStreamWriter(name)
	if b.keep(err); b.err != nil {
		return
	}
	header := make([]any, len(columns))
	for i, c := range columns {
		header[i] = excelize.Cell{StyleID: b.head, Value: c.title()}
		b.keep(s.SetColWidth(i+1, i+1, max(c.width, 12)))
	}
	corner, err := excelize.CoordinatesToCellName(fixedColumns+1, 2)
	b.keep(err)
	pane := "bottomLeft"
	if fixedColumns > 0 {
		pane = "bottomRight"
	}
	b.keep(s.SetPanes(&excelize.Panes{Freeze: true, XSplit: fixedColumns, YSplit: 1, TopLeftCell: corner, ActivePane: pane}))
	b.keep(s.SetRow("A1", header))
	for i, row := range rows {
		cell, err := excelize.CoordinatesToCellName(1, i+2)
		b.keep(err)
		b.keep(s.SetRow(cell, row))
	}
	b.keep(s.Flush())
}

// cellNumber is a number, or nothing where a cell cannot hold it.
func cellNumber(v float64) any {
	if p := number(v); p != nil {
		return *p
	}
	return nil
}

// date is the moment of an instant by the log's clock, nothing where its stamps
// carry no date.
func (b *workbook) date(res *analyze.Result, t int64) any {
	if !res.HasTime || !res.Info.Stamps.Dated() {
		return nil
	}
	// Spreadsheets count dates from 1900 on, and to the millisecond.
	at := time.Unix(0, res.Start+t).UTC().Round(time.Millisecond)
	if at.Year() < 1900 || at.Year() > 9999 {
		return nil
	}
	return excelize.Cell{StyleID: b.moment, Value: at}
}

func instantCell(i *bounds.Instant) any {
	if i == nil {
		return nil
	}
	return bounds.Seconds(i.T)
}

const fromFirstFrame = ", from the log's first frame"

func (r *Report) episodeSheet() []sheetColumn {
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
	return columns
}

func (r *Report) episodeRows(b *workbook) [][]any {
	var rows [][]any
	for i := range r.Logs {
		l := &r.Logs[i]
		for k := range l.Result.Episodes {
			e := &l.Result.Episodes[k]
			row := []any{Visible(l.Name), e.N, spoken(string(e.Outcome)), b.date(l.Result, e.Stop.T), bounds.Seconds(e.Stop.T), instantCell(e.Rest)}
			if e.Request != nil {
				q := &r.Map.Requests[e.Request.Condition]
				row = append(row, Visible(q.Name), bounds.Seconds(e.Request.T), q.By.String())
			} else {
				row = append(row, nil, nil, nil)
			}
			row = append(row, len(e.Cranks), instantCell(e.Running))
			for _, key := range decode.MetricKeys {
				if m, ok := metricOf(e.Metrics, key); ok {
					row = append(row, cellNumber(m.Best), cellNumber(m.Low), cellNumber(m.High))
				} else {
					row = append(row, nil, nil, nil)
				}
			}
			rows = append(rows, row)
		}
	}
	return rows
}

func (r *Report) standstillSheet() []sheetColumn {
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
		columns = append(columns, sheetColumn{Visible(r.Map.Inhibits[i].Name), "share", "of that time, the share in which this inhibit was true", 16})
	}
	return columns
}

func (r *Report) standstillRows(b *workbook) [][]any {
	var rows [][]any
	for i := range r.Logs {
		l := &r.Logs[i]
		for k := range l.Result.Standstills {
			s := &l.Result.Standstills[k]
			row := []any{Visible(l.Name), s.N, b.date(l.Result, s.Start.T), bounds.Seconds(s.Start.T), bounds.Seconds(s.End.T), s.Opportunity, s.Stopped, nil, nil}
			if s.Episode != 0 {
				row[7] = s.Episode
			}
			if s.StopDelay != nil && s.StopDelay.Absent == "" {
				row[8] = cellNumber(s.StopDelay.Best)
			}
			row = append(row, cellNumber(s.Covered), Visible(s.Reason), s.Unexplained, Visible(strings.Join(s.CannotTell, "; ")))
			for n := range r.Map.Inhibits {
				var share any
				for _, h := range s.Inhibits {
					if h.Condition == n {
						share = cellNumber(h.Share)
					}
				}
				row = append(row, share)
			}
			rows = append(rows, row)
		}
	}
	return rows
}
